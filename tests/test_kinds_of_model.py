"""Every model is an act, a thing with a state or a register, or computed; nobody adds one without saying which."""

from __future__ import annotations

from django.apps import apps
from django.db import models

from particles.records.act import Act

APPS = ("labsite", "particles", "batches", "reports")

STATES = {"Batch", "Job", "Sample", "ComputationRequest", "BenchDay"}
"""Things that go through a life: their rows change, and what changed them is kept beside them."""
REGISTERS = {
    "Balance",
    "Client",
    "ClientPerson",
    "Cylinder",
    "DispersantLot",
    "HydrometerRecord",
    "Laboratory",
    "MethodEditionRecord",
    "NumberSeries",
    "RegulatedArea",
    "Thermometer",
    "User",
}
"""What the laboratory has and knows, entered once and kept up."""
KEPT = {"BatchOfDay", "Entry", "EntryVerdict", "Run", "Certificate"}
"""Rows written once beside an act: what was typed, how it was judged, a place in a batch, an issued document."""
COMPUTED = {"AuditLink", "CauseList", "CertificateResult", "Flag", "FoundTimetable", "Result"}
"""What the program works out."""
TRACES = {"LastLook"}
"""What the program remembers so that it can show what has changed; nothing rests on it."""


def own_models() -> dict[str, type[models.Model]]:
    """Models of the four apps by name, without the history tables, which follow their model."""
    found = [model for app in APPS for model in apps.get_app_config(app).get_models()]
    return {model.__name__: model for model in found if not hasattr(model, "pgh_tracked_model")}


def test_every_model_is_an_act_a_state_a_register_kept_or_computed() -> None:
    acts = {name for name, model in own_models().items() if issubclass(model, Act)}
    assert len(acts) >= 20
    kinds = [acts, STATES, REGISTERS, KEPT, COMPUTED, TRACES]
    assert set().union(*kinds) == set(own_models())
    assert sum(map(len, kinds)) == len(own_models()), "a model stands under two kinds"


def test_a_thing_with_a_state_has_its_moves() -> None:
    for name in STATES - {"Job", "ComputationRequest"}:
        assert own_models()[name].MOVES  # type: ignore[attr-defined]


def test_whoever_did_an_act_and_when_is_never_empty() -> None:
    acts = [model for model in own_models().values() if issubclass(model, Act)]
    for model in acts:
        for name in ("by", "at"):
            assert not model._meta.get_field(name).null, f"{model.__name__}.{name}"  # type: ignore[union-attr]
