"""The moment of acceptance: the load and the sum, against the limits for the loads there are."""

from decimal import Decimal

from station.batch import events as ev
from station.batch.line import Line
from station.batch.state import Batch
from station.metrology.band import Limits
from station.metrology.uncertainty import conformance
from station.pan.view import Settled
from station.units import plain, shown, tidy
from station.weighing.commands import Decision
from station.weighing.sight import Look


def key_first(batch: Batch, line: Line) -> bool:
    """Whether the line wants a key before the lift: a cure, and every line with a hard limit."""
    return line.addition.role == "cure" or batch.limited(line.name)


def accept_sum(
    look: Look, settled: Settled, spilt_g: Decimal, *, keyed: bool, as_weighed: bool = False
) -> Decision:
    """The last load and the acceptance of the sum, against the limits for the loads there are."""
    load = load_of(look, settled, spilt_g, stays=False)
    net = look.line.actual_g + load.net_g
    limits = look.limits()
    if limits.accepts(net):
        as_weighed = False
    event = accepted(look.batch, look.line, limits, net, keyed=keyed, as_weighed=as_weighed)
    answer = f"{look.line.name} {shown(net, load.division_g)} g accepted"
    return Decision((load, event), answer=answer)


def accepted(
    batch: Batch, line: Line, limits: Limits, net: Decimal, *, keyed: bool, as_weighed: bool
) -> ev.Accepted:
    """The acceptance of a sum that has one more load than the line."""
    chance = conformance(
        net, Decimal(plain(limits.lower)), Decimal(plain(limits.upper)), limits.expanded
    )
    return ev.Accepted(
        line=line.name,
        net_g=net,
        target_g=plain(limits.target),
        lower_g=plain(limits.lower),
        upper_g=plain(limits.upper),
        accept_lower_g=limits.accept_lower,
        accept_upper_g=limits.accept_upper,
        aim_g=plain(limits.aim),
        hard_g=None if limits.hard is None else plain(limits.hard),
        expanded_g=limits.expanded,
        conformance=f"{chance:.4f}",
        meat_g=batch.meat_g,
        loads=len(line.loads) + 1,
        as_weighed=as_weighed,
        keyed=keyed,
        who=batch.who,
    )


def load_of(look: Look, settled: Settled, spilt_g: Decimal, stays: bool) -> ev.LoadWeighed:
    """The load on the pan, as an event."""
    line, tare, scale = look.line, look.line.tare, look.scale
    assert tare is not None and scale is not None
    return ev.LoadWeighed(
        line=line.name,
        net_g=settled.gross_g - tare.tare_g - spilt_g,
        gross_g=settled.gross_g,
        tare_g=tare.tare_g,
        spilt_g=spilt_g,
        scale=scale.name,
        division_g=scale.division_g,
        vessel=tare.vessel,
        lot=line.lot.lot if line.lot else None,
        who=look.batch.who,
        raw=settled.raw,
        tare_raw=tare.raw,
        stays=stays,
        onto=tare.onto,
    )


def pour_ended(look: Look) -> tuple[ev.Event, ...]:
    """How the pour went that is accepted now; nothing where the pour watch did not see one."""
    assert look.pan is not None  # it has settled there
    if (poured := look.pan.poured).ended_g is None:
        return ()
    return (
        ev.PourEnded(
            look.line.name,
            look.pan.scale.name,
            None if poured.said_g is None else tidy(poured.said_g),
            tidy(poured.flow_g_s),
            poured.slower,
            poured.ended_g,
            look.limits().accept_upper,
            look.batch.who,
        ),
    )
