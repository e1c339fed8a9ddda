"""Views for people's own questions in SQL, by plain names, over the tables made from the events.

`config/LEDGER.md` documents each column, and is kept the same by a test.
"""

AUDIT_BATCHES = """
CREATE VIEW audit_batches AS
SELECT
    batch,
    formula,
    revision,
    opened_at AS opened_at_utc,
    who AS opened_by,
    state,
    meat_g,
    CAST(salt_pct AS REAL) AS salt_percent_of_meat,
    salt_at_least AS salt_is_at_least,  -- 1: more went in, and nobody knows how much
    hold AS on_hold_because_json,       -- sentences
    by_hand AS lines_typed_by_hand,
    simulated                           -- 1: nothing in this ledger was real
FROM batch
""".strip()

AUDIT_ADDITIONS = """
CREATE VIEW audit_additions AS
SELECT
    addition.batch,
    batch.formula,
    batch.revision,
    addition.place,
    addition.name AS addition,
    addition.role,
    addition.target_g,
    addition.actual_g,                  -- null: not weighed, which is not nothing
    addition.unknown_more,              -- not null: more went in, and nobody knows how much
    CAST(addition.difference_pct AS REAL) AS difference_percent_of_target,
    addition.verdict,
    addition.scale,
    addition.lot AS lots,
    addition.loads,
    addition.by_hand AS typed_because,
    addition.who AS weighed_by,
    addition.at AS weighed_at_utc
FROM addition JOIN batch USING (batch)
""".strip()

AUDIT_LOTS = """
CREATE VIEW audit_lots AS
SELECT
    lot.batch,
    lot.line,                           -- an addition, or meat
    lot.lot,
    lot.supplier,
    lot.packed AS packed_on,
    lot.expires AS expires_on,
    lot.refused AS refused_past_date,
    lot.strengths AS strengths_percent_json,
    lot.actual_g AS weighed_g,          -- null: told, and nothing weighed from it
    lot.unknown_more,                   -- not null: more went in, and nobody knows how much
    CAST(lot.doubt_text AS REAL) AS may_be_in_g,
    lot.at AS weighed_at_utc
FROM lot
""".strip()

VIEWS = {
    "audit_batches": AUDIT_BATCHES,
    "audit_additions": AUDIT_ADDITIONS,
    "audit_lots": AUDIT_LOTS,
}
"""Name -> the SQL that makes it."""
