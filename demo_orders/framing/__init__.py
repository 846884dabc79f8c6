"""Framing geometry behind the demo days: from a section's specification to rows of a cut list.

Lengths are exact inches. A sloped or mitred length is rounded up to the next sixteenth, long point
to long point; every other length is exact at 1/32 in.
"""
