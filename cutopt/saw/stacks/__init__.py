"""Open stacks: how many carts must stand at the saw at once, exactly.

A cart takes one section's parts for one jig; it is open from its first stick to its last. Given
which carts each product (a kind of part that one cart alone or some carts need, or a stick that is
cut at once) serves, `fewest_open` finds an order of products with the fewest carts open at once and
proves it; `can_hold` tells of a limit whether it can be met, is impossible, with the carts that
make it so, or is undecided.

Known in the literature as the minimisation of open stacks; the rooms here are `graph` (what
matters of the products), `bounds`, `greedy`, `search` (the decision), `fewest`, `hold` and
`shrink`.
"""

from cutopt.saw.stacks.fewest import Stacks, fewest_open
from cutopt.saw.stacks.graph import peak_of
from cutopt.saw.stacks.hold import Held, Verdict, can_hold

__all__ = ["Held", "Stacks", "Verdict", "can_hold", "fewest_open", "peak_of"]
