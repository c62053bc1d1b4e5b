"""Invented teardowns with a known truth: how findings arise, and how people look for them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from etl.build.evidence_tables import read_evidence
from etl.decide.evidence.findings import EvidenceTable, contributions
from etl.decide.evidence.level import ExclusionRule

SHAKING = ("vib_high", "shake_seen", "pipe_loose")
CORRELATION = 0.4
"""Between findings of one kind."""
VIBRATION = 3.0
"""Times as common as another mechanism, in the mean over sites: 15 % of all."""
BATCH = 400


@dataclass(frozen=True)
class Site:
    """One site: its table of weights, its true chances and how common each mechanism is."""

    table: EvidenceTable
    chance: NDArray[np.float64]
    share: NDArray[np.float64]


def metal_table() -> EvidenceTable:
    """Return the table without what only rubber and plastic hoses show."""
    table = read_evidence().table
    linked = [m for m in range(len(table.mechanisms))
              if table.mechanisms[m] not in ("polymer_ageing", "liner_fault", "coupling_slip")]
    kept = [f for f, name in enumerate(table.findings) if not name.startswith("np_")]
    return replace(
        table, findings=tuple(table.findings[f] for f in kept),
        mechanisms=tuple(table.mechanisms[m] for m in linked), kind=table.kind[kept],
        weight=table.weight[np.ix_(kept, linked)], rules_out=table.rules_out[np.ix_(kept, kept)],
        is_laboratory=table.is_laboratory[kept], effort=table.effort[kept])


def metal_rules() -> dict[int, ExclusionRule]:
    """Return the rules of exclusion in the rows and columns of `metal_table`."""
    small, full = metal_table(), read_evidence()
    row = {full.table.row(name): at for at, name in enumerate(small.findings)}
    column = {full.table.mechanisms.index(name): at for at, name in enumerate(small.mechanisms)}

    def moved(rows):
        return tuple(row[item] for item in rows)

    return {column[mechanism]: ExclusionRule(
        moved(rule.needs), moved(rule.forbids), moved(rule.signs),
        tuple(replace(item, mechanism=column[item.mechanism], findings=moved(item.findings))
              for item in rule.exclusions),
    ) for mechanism, rule in full.rules.items()}


def make_site(
    table: EvidenceTable, rng: np.random.Generator, *, spread: float = 0.8,
    everything_shakes: bool = False, vibration: float = VIBRATION,
) -> Site:
    """Draw a site whose chances follow the table but for log-normal errors of the weights."""
    average = rng.beta(2.0, 12.0, len(table.findings))
    error = np.where(table.weight != 0.0, spread, 0.3)
    noise = error * rng.standard_normal(table.weight.shape)
    chance = np.clip(average[:, None] * np.exp(table.weight + noise), 0.002, 0.95)
    if everything_shakes:
        for name in SHAKING:
            chance[table.row(name)] = 0.6
    usual = np.ones(len(table.mechanisms))
    usual[table.mechanisms.index("vib_fatigue")] = vibration
    return Site(table, chance, rng.dirichlet(3.0 * usual))


def make_cases(
    site: Site, rng: np.random.Generator, n: int, habit: str = "checklist",
) -> tuple[NDArray[np.int8], NDArray[np.intp]]:
    """Draw teardowns: states of all findings, and the mechanism behind each."""
    table = site.table
    mechanism = rng.choice(len(table.mechanisms), n, p=site.share)
    seen = _seen(site, rng, mechanism)
    checked = _checked(table, rng, mechanism, seen, habit)
    states = np.where(checked, np.where(seen, 1, -1), 0).astype(np.int8)
    return states, mechanism


def _seen(site, rng, mechanism):
    """Draw what could be found if everything were looked for."""
    table, n = site.table, mechanism.size
    common = rng.standard_normal((n, int(table.kind.max()) + 1))[:, table.kind]
    own = rng.standard_normal((n, len(table.findings)))
    level = ndtr(np.sqrt(CORRELATION) * common + np.sqrt(1.0 - CORRELATION) * own)
    seen = level < site.chance.T[mechanism]
    # Of findings that cannot be present together only the likeliest stays.
    rank = np.argsort(np.argsort(-site.chance.T[mechanism] * seen, axis=1, kind="stable"), axis=1)
    for row in range(len(table.findings)):
        rivals = np.flatnonzero(table.rules_out[row])
        if rivals.size:
            beaten = (seen[:, rivals] & (rank[:, rivals] < rank[:, [row]])).any(axis=1)
            seen[:, row] &= ~beaten
    return seen


def _checked(table, rng, mechanism, seen, habit):
    """Draw what was looked for, and written down."""
    n, n_findings = seen.shape
    if habit == "by suspicion":
        wrong = rng.random(n) < 0.5
        suspect = np.where(wrong, rng.integers(0, len(table.mechanisms), n), mechanism)
        is_asked = table.weight.T[suspect] > 0.0
        return rng.random(seen.shape) < np.where(is_asked, 0.85, 0.15)
    if habit == "when present":
        return rng.random(seen.shape) < np.where(seen, 0.8, 0.25)
    if habit == "everything":
        return np.ones_like(seen)
    part = np.where(table.is_laboratory, 0.3, 0.7)
    by_kind = rng.random((n, int(table.kind.max()) + 1))[:, table.kind] < part
    return by_kind & (rng.random((n, n_findings)) < 0.8)


def scores_of(table: EvidenceTable, states: NDArray[np.int8]) -> NDArray[np.float64]:
    """Return the scores of many cases, a batch at a time."""
    return np.concatenate([contributions(table, states[at:at + BATCH]).sum(axis=1)
                           for at in range(0, len(states), BATCH)])


