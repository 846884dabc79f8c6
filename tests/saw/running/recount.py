"""An order's figures counted again, stick by stick, from its runs' layouts alone."""

from __future__ import annotations

from cutopt.saw.running import Order, Setup, Work

__all__ = ["recount"]


def recount(order: Order, work: Work) -> list[str]:
    """What differs between an order's figures and its layouts walked through.

    Parameters
    ----------
    order
        As `running_order` gave it.
    work
        What the saw had to cut, for the carts' dues and what each must get.
    """
    seconds = order.saw.seconds
    costs = {
        Setup.MATERIAL: seconds.material,
        Setup.STOCK: seconds.stock,
        Setup.STOP: seconds.stop,
        Setup.NONE: 0,
    }
    needs: dict[tuple[str, str], int] = {}
    for row, cart in zip(work.demand.tolist(), work.carts, strict=True):
        needs[cart.section, cart.jig] = sum(row)
    due = {(t.cart.section, t.cart.jig): t.due for t in order.carts}
    now = setup_time = late = peak = 0
    left = dict(needs)
    opened: set[tuple[str, str]] = set()
    before: tuple[object, ...] | None = None
    found = []
    for run in order.runs:
        offer = run.layouts[0].offer
        here = (run.material, offer.length, offer.width, run.pattern)
        if before is None or before[0] != here[0]:
            kind = Setup.MATERIAL
        elif before[:3] != here[:3]:
            kind = Setup.STOCK
        else:
            kind = Setup.NONE if before == here else Setup.STOP
        if kind is not run.setup:
            found.append(f"run of {run.pattern}: set-up {run.setup}, counted {kind}")
        now += costs[kind]
        setup_time += costs[kind]
        before = here
        if sum(lay.count for lay in run.layouts) != run.count:
            found.append(f"run of {run.pattern}: its layouts have other sticks")
        for lay in run.layouts:
            for _ in range(lay.count):
                now += seconds.stick + seconds.cut * len(lay.parts)
                closing = []
                for p in lay.parts:
                    key = (p.section, p.jig)
                    opened.add(key)
                    left[key] -= 1
                    if not left[key]:
                        closing.append(key)
                peak = max(peak, len(opened))
                for key in closing:
                    opened.discard(key)
                    late += max(0, now - due[key])
        if run.end != now:
            found.append(f"run of {run.pattern}: ends at {run.end}, counted {now}")
    if any(left.values()):
        found.append("not every cart gets its pieces")
    figures = order.figures
    for name, told, counted in (
        ("open carts", figures.peak, peak),
        ("set-up time", figures.setup_time, setup_time),
        ("end", figures.end, now),
        ("lateness", figures.late, late),
    ):
        if told != counted:
            found.append(f"{name}: told {told}, counted {counted}")
    if figures.setup_time < figures.setup_bound:
        found.append("set-ups below their bound")
    kept = order.saw.carts and figures.peak <= order.saw.carts
    if kept and figures.setup_time < figures.setup_bound_within:
        found.append("set-ups below the bound within the limit")
    return found
