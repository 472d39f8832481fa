"""The page on which records are put right: who may, what is refused and keeps what was typed, what is shown."""

from __future__ import annotations

from typing import Any

import pytest

from batches.models import Exchange, ExchangeUndone, LeftOut, LeftOutLifted, MassCorrection, Run

pytestmark = pytest.mark.django_db(transaction=True)
WHY = "The beaker cards of both were swapped."


def test_whoever_reviews_exchanges_leaves_out_and_puts_right_and_takes_it_back(
    three: list[Run], qa_officer: Any, technician: Any, as_person: Any
) -> None:
    """Bench fault 59."""
    run, other, _ = three
    batch = run.batch
    client, address = as_person(qa_officer), f"/review/{batch.number}/put-right/"
    assert as_person(technician).get(address).status_code == 403
    assert address in client.get(f"/review/{batch.number}/").content.decode()
    asked = {"exchange-first": run.pk, "exchange-second": other.pk, "exchange-part": "from on"}
    refused = client.post(f"{address}exchange/", asked | {"exchange-reason": WHY})
    assert refused.status_code == 422
    assert "Say which time." in refused.content.decode()
    assert WHY in refused.content.decode()
    same = client.post(
        f"{address}exchange/",
        asked | {"exchange-second": run.pk, "exchange-slot_s": 60, "exchange-reason": WHY},
    )
    assert same.status_code == 409
    assert same.content.decode().count("cannot be exchanged with itself") == 1, "at the form"
    with_blank = {"exchange-second": batch.blank.pk, "exchange-slot_s": 5400, "exchange-reason": WHY}
    settling = client.post(f"{address}exchange/", asked | with_blank)
    assert settling.status_code == 409
    assert "from 13.5 to 4.5, and a blank does not settle" in settling.content.decode()
    sent = client.post(f"{address}exchange/", asked | {"exchange-slot_s": 5400, "exchange-reason": WHY})
    assert sent.status_code == 302
    made = Exchange.objects.get()
    assert (made.from_slot_s, made.until_slot_s) == (5400, None)
    assert "the readings from 90 min on" in client.get(address).content.decode()
    of_the_run = client.get(f"/runs/{run.pk}/").content.decode()
    assert (
        f"The readings from 90 min on, exchanged with cylinder {other.cylinder.serial} by {qa_officer}: {WHY}"
        in of_the_run
    )
    assert client.post(f"/review/exchanges/{made.pk}/undo/", {"undo-reason": "No."}).status_code == 302
    left = {"leave-out-run": run.pk, "leave-out-slots_s": ["60"], "leave-out-reason": "Foam."}
    bare = client.post(f"{address}leave-out/", left | {"leave-out-reason": "ok"})
    assert (bare.status_code, "“ok” does not say why" in bare.content.decode()) == (409, True)
    assert client.post(f"{address}leave-out/", left).status_code == 302
    out = LeftOut.objects.get()
    assert client.post(f"/review/left-out/{out.pk}/lift/", {"undo-reason": "No foam."}).status_code == 302
    mass = {
        "mass-run": run.pk,
        "mass-purpose": "portion",
        "mass-mass_g": "50.0",
        "mass-reason": "The sheet says so.",
    }
    assert client.post(f"{address}mass/", mass).status_code == 302
    shown = client.get(address).content.decode()
    for words in ("Undone by", "Counts again", "40 g is 50 g", "The sheet says so."):
        assert words in shown
    assert [kind.objects.count() for kind in (ExchangeUndone, LeftOutLifted, MassCorrection)] == [1, 1, 1]
