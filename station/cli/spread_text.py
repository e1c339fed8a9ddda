"""How figures spread, as text: a small chart, its statistics, every sign and what it means."""

from collections.abc import Sequence

from station.audit.drawn.text import text_chart
from station.audit.series import Series, Sign
from station.audit.spread import Spread
from station.cli.common import local, shown
from station.cli.paper import Table, printer
from station.cli.questions_text import LATEST, foot, head
from station.ledger.asking import Asked


def print_spread(found: Asked, answer: Spread) -> None:
    head(found, f"{answer.line}: {answer.n} batches, difference in percent of the target")
    say = printer().print
    if answer.sd_pct is None or answer.center_pct is None:
        say("fewer than two figures make no chart: ask for more days")
    else:
        signs = {sign.batch for sign in answer.signals}
        if answer.sigma_pct:
            say(
                text_chart(
                    [(float(p.diff_pct), p.batch in signs) for p in answer.points],
                    [
                        *(("limit", answer.ucl_pct), ("limit", answer.lcl_pct)),
                        ("mean", answer.center_pct),
                    ],
                    printer().width,
                )
            )
        say(f"mean {answer.mean_pct:.2f}, standard deviation {answer.sd_pct:.2f}")
        say(f"limits {answer.lcl_pct:.2f} to {answer.ucl_pct:.2f}, of the weighings, no tolerance")
        if answer.against_band:
            band = answer.against_band
            ratio = f", Cp {band.cp:.2f}, Cpk {band.cpk:.2f}" if band.cp is not None else ""
            say(f"band {band.lower_pct:g} to {band.upper_pct:g}{ratio}: {band.text}")
        if answer.provisional:
            say("PROVISIONAL: so few figures that the limits still move")
        if not answer.signals:
            say("nothing here but chance, by these rules")
    _print_signs(answer.signals)
    rows = [
        (p.batch, local(p.at), p.diff_pct, p.verdict, f"{p.formula} r{p.revision}",
         "BY HAND" if p.by_hand else "")
        for p in answer.points[-LATEST:]
    ]  # fmt: skip
    if rows:
        if len(rows) < answer.n:
            say(f"the last {len(rows)}; all are in --json and --csv")
        columns = {"batch": False, "at": False, "diff %": True, "verdict": False, "formula": False}
        say(Table(columns | {"": False}, rows))
    for out in answer.left_out:
        say(shown(f"{out.batch}: no figure, {out.reason}"))
    foot(found)


def _print_signs(signs: Sequence[Sign]) -> None:
    """Each sign, then what each rule that fired means."""
    for sign in signs:
        printer().print(shown(f"  {sign.batch}: {sign.rule}, {sign.text}"))
    for rule, means in {sign.rule: sign.means for sign in signs}.items():
        printer().print(f"{rule} means: {means}")


def print_series(series: Series) -> None:
    """What a series says: its statistics, every sign, every batch without a figure."""
    say, s = printer().print, series.statistics
    told = shown(f"{series.name}, {series.unit}")
    if s.sd is None or s.lcl is None or s.ucl is None:
        say(f"{told}: fewer than two figures make no chart")
    else:
        move = "; PROVISIONAL: so few that the limits still move" if s.provisional else ""
        say(f"{told}: mean {s.mean:.4g}, limits {s.lcl:.4g} to {s.ucl:.4g}{move}")
    _print_signs(s.signals)
    for out in series.left_out:
        say(shown(f"  {out.batch}: no figure, {out.reason}"))
