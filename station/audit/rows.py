"""What the batch sheet and the target sheet say, as values: masses are decimal text in grams, null
where they are not known. Fields may be added, never renamed: the sheets are read by programs."""

import msgspec


class AmountRow(msgspec.Struct, frozen=True, kw_only=True):
    """Agents that a rule limits together, in `unit` of the basis: as planned, and as weighed."""

    agents: tuple[str, ...]
    basis: str
    unit: str
    planned: str | None
    limit: str
    source: str


class WeighedAmount(AmountRow, frozen=True, kw_only=True):
    """The same with what was weighed in; `at_least`: more went in, and nobody knows how much;
    `at_most`: what it is judged by, with every doubt and uncertainty; None where it has no most."""

    actual: str | None
    at_least: bool = False
    at_most: str | None = None


class SaltPercent(msgspec.Struct, frozen=True):
    """All salt as a percentage of the meat; `at_least`: more went in, nobody knows how much."""

    planned: str | None
    actual: str | None
    at_least: bool = False


class MeatLoad(msgspec.Struct, frozen=True):
    net_g: str
    scale: str
    vessel: str | None
    who: str
    by_hand: str | None
    lot: str | None = None


class MeatRow(msgspec.Struct, frozen=True):
    name: str
    planned_g: str | None
    actual_g: str
    loads: tuple[MeatLoad, ...]


class LoadRow(msgspec.Struct, frozen=True, kw_only=True):
    """One load of an addition, less what clung to its vessel; `actual_g` null where nobody knows
    how much it is, `lot` where none was told. `in_mix`: somebody saw or said that it went in."""

    actual_g: str | None
    scale: str | None
    vessel: str | None
    lot: str | None
    who: str
    at: str
    in_mix: bool


class AdditionRow(msgspec.Struct, frozen=True, kw_only=True):
    """One addition: target and band for the meat as it is, what was accepted, what went in.
    `unknown_more`: who said, and when, that more went in and nobody knows how much. `who`, `at`,
    `scale`: of the last load; `parts` has each of them."""

    name: str
    role: str
    target_g: str | None
    lower_g: str | None
    upper_g: str | None
    accept_lower_g: str | None
    accept_upper_g: str | None
    actual_g: str | None
    difference_g: str | None
    difference_percent: str | None
    verdict: str | None
    conformance: str | None
    scale: str | None
    loads: int
    lot: str | None
    residue_g: str | None
    by_hand: str | None
    who: str | None
    at: str | None
    unknown_more: str | None = None
    division_g: str | None = None
    parts: tuple[LoadRow, ...] = ()

    @property
    def told_apart(self) -> tuple[LoadRow, ...]:
        """The loads, where the row alone does not say it all: there are several, or one still
        stands."""
        alone = len(self.parts) == 1 and self.parts[0].in_mix
        return () if alone else self.parts


class StepRow(msgspec.Struct, frozen=True):
    """A step that is over: `verdict` is in, out, unread or skipped, `misses` say what was outside
    its `limit`, `reason` why it ended so. `started` is None in older ledgers."""

    name: str
    started: str | None
    ended: str
    value: str | None
    limit: str | None
    verdict: str
    who: str
    reason: str | None = None
    misses: tuple[str, ...] = ()
    thermometer: str | None = None

    @property
    def at(self) -> str:
        """When it counts: its end."""
        return self.ended

    @property
    def said(self) -> str:
        """What became of it, in words."""
        if self.verdict == "skipped":
            return "left out"
        by = f" ({self.thermometer})" if self.thermometer else ""
        return f"{self.value or 'done'}{by}"


class WarningRow(msgspec.Struct, frozen=True):
    addition: str | None
    kind: str
    text: str
    at: str


class RefusalRow(msgspec.Struct, frozen=True):
    addition: str | None
    reason: str
    at: str
    times: int = 1


class NoteRow(msgspec.Struct, frozen=True):
    text: str
    who: str
    at: str


class Proof(msgspec.Struct, frozen=True):
    """What was held against what is written elsewhere before the sheet was made. `of`: `batch` or
    `ledger`; `proves` and `leaves`: what that says, and what it does not."""

    of: str
    proves: str
    leaves: str | None = None


class SpanRow(msgspec.Struct, frozen=True, kw_only=True):
    """Something that lasted, or one moment of it: `kind` is work, step, blocked, hold, parked or
    refused; `end` is null where it is so still."""

    kind: str
    name: str
    text: str
    begin: str
    end: str | None
    scale: str | None = None


class CountRow(msgspec.Struct, frozen=True):
    """One count of pieces or packs (`what`), grams. `spread_g`: sample standard deviation of those
    weighed one by one, None for fewer than two."""

    name: str
    what: str
    count: int
    net_g: str
    mean_g: str
    spread_g: str | None
    scale: str
    begun: str


class DriedRow(msgspec.Struct, frozen=True, kw_only=True):
    """One weighing of pieces `of` that name after they hung for `days`: `net_g` of `count`, where
    they were `green_g` of `green_count`. `loss_pct`: None unless all were weighed; `says`: what is
    wrong with it."""

    of: str
    at: str
    days: str
    count: int
    green_count: int
    net_g: str
    green_g: str
    loss_pct: str | None
    planned_pct: str | None
    scale: str
    says: str | None = None


class PieceRow(msgspec.Struct, frozen=True):
    """All pieces of a batch."""

    count: int
    mean_g: str
    spread_g: str | None


class PackRow(msgspec.Struct, frozen=True, kw_only=True):
    """Packs of one weight, place and date: `t1` lack more than is tolerated, `t2` more than twice
    that, `misses` are the rules that are not kept. All None where no law was read."""

    nominal_g: str
    count: int
    mean_g: str
    t1: int | None
    t2: int | None
    verdict: str | None
    use_by: str | None
    store: str | None
    misses: tuple[str, ...] = ()
    source: str | None = None


class CasingRow(msgspec.Struct, frozen=True):
    """What was filled into: its lots, the metres that were taken (None where nobody measured them),
    how often its water was changed of how often that was meant, and the grams in a metre as they
    were filled (None before that is known) and as the formula expects them."""

    name: str
    lots: tuple[str, ...]
    length_m: str | None
    changes: int
    changes_meant: int
    filled_g_per_m: str | None
    meant_g_per_m: str | None


class YieldRow(msgspec.Struct, frozen=True):
    """From mix to packs; `dried_g`: the pieces as they were weighed last, after they hung;
    `loss_pct` to the last of them that was weighed, less what was taken to be tasted (`sampled_g`)
    and what is kept for another batch (`left_over_g`)."""

    mix_g: str
    filled_g: str | None
    packed_g: str | None
    loss_pct: str | None
    sampled_g: str | None = None
    dried_g: str | None = None
    left_over_g: str | None = None


class CostRow(msgspec.Struct, frozen=True, kw_only=True):
    """What went in; `per_kg` of what `per_kg_of` says. `unpriced`: lines whose price nobody told,
    which are not in it; `at_least`: more went in, and nobody knows how much."""

    total: str
    per_kg: str
    currency: str | None
    per_kg_of: str
    per_piece: str | None = None
    per_pack: str | None = None
    unpriced: tuple[str, ...] = ()
    at_least: bool = False


class BatchSheet(msgspec.Struct, frozen=True, kw_only=True, rename={"yielded": "yield"}):
    """One batch: planned against actual. `version`: the station's when it was opened; `configured`:
    the first 16 hex digits of the SHA-256 of all that it was opened with (formula, limits, bands,
    scales, people), in groups of four. `events` and `head` are the ledger's, `broken` says why it
    is not to be trusted."""

    batch: str
    formula: str
    revision: int
    authority: str
    simulated: bool
    opened_at: str
    opened_by: str
    state: str
    hold: tuple[str, ...]
    planned: str
    plan_g: str | None
    meat_g: str
    meat: tuple[MeatRow, ...]
    additions: tuple[AdditionRow, ...]
    steps: tuple[StepRow, ...]
    salt_percent: SaltPercent
    limits: tuple[WeighedAmount, ...]
    warnings: tuple[WarningRow, ...]
    refusals: tuple[RefusalRow, ...]
    notes: tuple[NoteRow, ...]
    version: str
    configured: str
    events: int
    head: str
    code: str
    caution: str
    broken: str | None = None
    proof: Proof | None = None
    timeline: tuple[SpanRow, ...] = ()
    pieces: PieceRow | None = None
    packs: tuple[PackRow, ...] = ()
    counts: tuple[CountRow, ...] = ()
    dried: tuple[DriedRow, ...] = ()
    casing: CasingRow | None = None
    yielded: YieldRow | None = None
    cost: CostRow | None = None


class TargetMeat(msgspec.Struct, frozen=True):
    name: str
    target_g: str


class TargetStep(msgspec.Struct, frozen=True):
    name: str
    step: str


class TargetLine(msgspec.Struct, frozen=True, kw_only=True):
    """One line; `from_g` and `to_g` are the acceptance limits, null on a scale that is not fit."""

    name: str
    step: None = None
    g_per_kg: str
    target_g: str
    aim_g: str | None
    from_g: str | None
    to_g: str | None
    scale: str
    loads: int
    unfit: str | None
    key_first: bool
    allergens: tuple[str, ...]


class TargetSheet(msgspec.Struct, frozen=True, kw_only=True):
    """What a planned batch needs, in the order of the bench."""

    formula: str
    revision: int
    station: str
    meat_g: str
    meat: tuple[TargetMeat, ...]
    items: tuple[TargetLine | TargetStep, ...]
    salt_percent: str
    limits: tuple[AmountRow, ...]
    caution: str
