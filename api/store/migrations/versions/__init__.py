"""One file for each step of the schema, `NNNN_word.py`, numbered without a gap.

What is released is never changed: a later step mends an earlier one.
"""
