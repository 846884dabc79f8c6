"""Who may do what: roles and rights, callers, and what routes declare.

    rights  →  who  →  caller

`rights` and `who` are plain words that services use too; `caller` is for routes.
"""

__all__: list[str] = []
