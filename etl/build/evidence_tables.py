"""The packaged tables of teardown evidence as the pure functions want them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from etl.decide.evidence.findings import EvidenceTable
from etl.decide.evidence.level import Exclusion, ExclusionRule
from etl.load.seeds import rows

NO_MECHANISM = "unknown"


@dataclass(frozen=True)
class Evidence:
    """Weights, rules and words of teardown evidence.

    Attributes
    ----------
    table : EvidenceTable
    rules : mapping of int to ExclusionRule
        By column of the table.
    names : tuple of str
        Mechanisms as a person would say them within a sentence.
    words : tuple of str
        Findings as a person would say them.
    looked_at : tuple of str
        Where each finding is looked for.
    strengths : mapping of str to float
        Words of a weight, and the log likelihood ratio from which on they hold.
    """

    table: EvidenceTable
    rules: Mapping[int, ExclusionRule]
    names: tuple[str, ...]
    words: tuple[str, ...]
    looked_at: tuple[str, ...]
    strengths: Mapping[str, float]


def read_evidence() -> Evidence:
    """Read the packaged tables of findings, weights, strengths and rules of exclusion."""
    found, mechanisms = rows("findings"), [
        row for row in rows("mechanisms") if row["mechanism"] != NO_MECHANISM]
    strengths = {int(row["strength"]): float(np.log(float(row["ratio"])))
                 for row in rows("evidence_strengths")}
    finding = {row["finding"]: at for at, row in enumerate(found)}
    mechanism = {row["mechanism"]: at for at, row in enumerate(mechanisms)}
    weight = np.zeros((len(finding), len(mechanism)))
    for row in rows("evidence"):
        strength = int(row["strength"])
        weight[finding[row["finding"]], mechanism[row["mechanism"]]] = (
            np.sign(strength) * strengths[abs(strength)])
    rules_out = np.zeros((len(finding), len(finding)), np.bool_)
    for row in found:
        for other in row["rules_out"].split():
            rules_out[finding[row["finding"]], finding[other]] = True
    kinds = sorted({row["kind"] for row in found})
    table = EvidenceTable(
        tuple(finding), tuple(mechanism),
        np.array([kinds.index(row["kind"]) for row in found], np.intp), weight,
        rules_out | rules_out.T, np.array([row["is_laboratory"] == "yes" for row in found]),
        np.array([float(row["effort"]) for row in found]))
    return Evidence(
        table, _rules(finding, mechanism),
        tuple(row["short"] for row in mechanisms),
        tuple(row["words"] for row in found), tuple(row["looked_at"] for row in found),
        {row["words"]: strengths[int(row["strength"])] for row in rows("evidence_strengths")})


def _rules(
    finding: Mapping[str, int], mechanism: Mapping[str, int]
) -> dict[int, ExclusionRule]:
    """Return the rule of each diagnosis of exclusion."""
    given = rows("exclusions")
    rules = {}
    for name in dict.fromkeys(row["mechanism"] for row in given):
        mine = [row for row in given if row["mechanism"] == name]
        parts = {rule: tuple(finding[row["finding"]] for row in mine if row["rule"] == rule)
                 for rule in ("needs", "forbids", "sign")}
        share = {row["other_mechanism"]: float(row["largest_share"])
                 for row in mine if row["rule"] == "excludes"}
        rules[mechanism[name]] = ExclusionRule(
            parts["needs"], parts["forbids"], parts["sign"],
            tuple(Exclusion(
                mechanism[other],
                tuple(finding[row["finding"]] for row in mine if row["other_mechanism"] == other),
                least,
            ) for other, least in share.items()))
    return rules
