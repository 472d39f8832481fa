"""
Every door a technician has, tried for a tell: which cylinder holds the duplicate, which the reference soil?

Two ways to tell are tried over many batches. Numbers: each number a door ties to a cylinder (rows in addresses and
JSON, codes, places) is ranked within its batch; a second portion whose rank is not what chance gives is told by it.
Words: with code, cylinder and figures taken out, what a door says of one portion is what it says of every other.
"""

from __future__ import annotations

import json
import re
from collections import defaultdict
from collections.abc import Callable, Iterator
from datetime import timedelta
from difflib import unified_diff
from math import sqrt
from typing import Any

import pytest
from django.utils import timezone

from batches.models import Batch, Run
from batches.planning.rules import add_duplicate, start_soak, unweighed_chosen
from particles.models import Client, Portion, ReferenceSoil
from particles.portions.code import row_of
from tests.support import factories

pytestmark = pytest.mark.django_db(transaction=True)

BATCHES, SAMPLES = 16, 3
FAR_SD = 5.0
"""So many standard deviations from chance is a tell; chance alone gets there once in 1.7 million tries."""


@pytest.fixture
def soil(bench: Any, clerk: Any, technician: Any, qa_officer: Any) -> ReferenceSoil:
    """A bulk soil of the laboratory's own, from its own bag, with another texture by hand than the clients' soils."""
    own = Client.objects.create(name="Own bulk soil (invented)", address="-", contact="-")
    now = timezone.now() - timedelta(days=30)
    bag = factories.prepared(
        factories.job(own, clerk, at=now).samples.get(), technician, at=now, field_texture="sandy loam"
    )
    factories.bag_of(bag, 20_000, technician, at=now)
    return ReferenceSoil.enter(
        bag,
        name="Sandbank",
        kind="sandy",
        container="Bin 3",
        by=qa_officer,
        at=timezone.now(),
    )


@pytest.fixture
def plan(
    the_client: Any, clerk: Any, technician: Any, bench: Any, soil: ReferenceSoil
) -> Callable[[int], list[Batch]]:
    """Plans batches one after the other, each with a duplicate and the reference soil, weighed but for dry tins."""
    return lambda count: _planned(count, the_client, clerk, technician, bench)


def _planned(count: int, the_client: Any, clerk: Any, technician: Any, bench: Any) -> list[Batch]:
    factories.more_cylinders(bench, count * (SAMPLES + 3))
    cylinders = list(bench.cylinders)
    masses = {name: mass for name, mass in factories.MASSES_G.items() if name != "tin_oven_dry_g"}
    found = []
    for n in range(count):
        at = timezone.now() - timedelta(days=9)
        job = factories.job(the_client, clerk, at=at, samples=SAMPLES)
        portions = [
            factories.portion(factories.prepared(s, technician, at=at), technician, bench, **masses)
            for s in job.samples.all()
        ]
        bench.cylinders = cylinders[n * (SAMPLES + 3) :]
        batch = factories.batch_with_duplicates(portions, technician, bench, at=at, filled=False)
        for second in unweighed_chosen(batch):
            factories.stored("weighing", technician, portion=second.pk, balance=bench.balance.pk, **masses)
        start_soak(batch, by=technician, at=at)
        batch.disperse(by=technician, at=at + timedelta(hours=16), mixing_minutes=5)
        found.append(batch)
    return found


def doors_of(batch: Batch, run: Run) -> dict[str, str]:
    """Addresses that a technician can open about one cylinder, by name."""
    assert run.portion is not None
    return {
        "run": f"/runs/{run.pk}/",
        "paper": f"/batches/{batch.number}/paper/?run={run.pk}",
        "weigh": f"/portions/{run.portion.code}/weigh/",
        "sieve": f"/portions/{run.portion.code}/sieve/",
    }


def below_menu(shown: str) -> str:
    return shown[shown.find("<main") :] if "<main" in shown else shown


def rows_of(shown: str, codes: list[str]) -> dict[str, str]:
    """The parts of a list that are about each code: its row of a table, its button."""
    parts = re.findall(
        r"<tr\b.*?</tr>|<button class=\"cylinder.*?</button>|<a class=\"button.*?</a>",
        below_menu(shown),
        re.DOTALL,
    )
    return {code: "\n".join(part for part in parts if code in part) for code in codes}


def numbers_in(text: str, run: Run) -> Iterator[tuple[str, int]]:
    """Numbers of a text with the words before them, without the cylinder's own and what is drawn for one answer."""
    assert run.portion is not None
    text = text.replace(run.portion.code, "CODE").replace(run.cylinder.serial, "CYLINDER")
    text = re.sub(r"[0-9a-f]{8}-[0-9a-f-]{27}", "NAME", text)
    for found in re.finditer(r"([a-z_]+[^a-z0-9]{1,3}(?:[a-z]+/)?)(\d+)", text):
        yield found[1], int(found[2])


def plain(text: str, run: Run) -> str:
    """A text without code, cylinder, figures and what is drawn for one answer."""
    assert run.portion is not None
    text = text.replace(run.portion.code, "CODE").replace(run.cylinder.serial, "CYLINDER")
    text = re.sub(r"[0-9a-f]{8}-[0-9a-f-]{27}", "NAME", text)
    text = re.sub(r'name="csrfmiddlewaretoken" value="[^"]+"', "", text)
    text = re.sub(r"<code>[0-9a-f]+…</code>", "DIGEST", text)
    return re.sub(r"\d+", "#", text)


def seen_by(person: Any, batch: Batch, as_person: Any) -> dict[str, dict[Run, str]]:
    """What each door says of each cylinder with soil: its own pages, and its part of the lists and of the JSON."""
    client = as_person(person)
    runs = list(batch.sample_runs)
    codes = [run.portion.code for run in runs if run.portion is not None]
    said: dict[str, dict[Run, str]] = defaultdict(dict)
    for run in runs:
        for name, address in doors_of(batch, run).items():
            answer = client.get(address)
            assert answer.status_code in (200, 404), address
            if name == "paper":
                # The row of buttons to the other cylinders is a list of its own, below.
                text = re.sub(r'<a class="button[^>]*>[^<]*</a>', "", answer.content.decode())
                # Which slots a second person reads is drawn of the cylinder, whatever stands in it.
                text = text.replace(' <span class="hush">two read</span>', "")
                said[name][run] = below_menu(text)
            else:
                said[name][run] = below_menu(answer.content.decode())
    lists = {
        "batch": f"/batches/{batch.number}/",
        "papers": f"/batches/{batch.number}/paper/",
        "weighing": "/weighing/?weigh_page=1",
    }
    for name, address in lists.items():
        parts = rows_of(client.get(address).content.decode(), codes)
        for run in runs:
            assert run.portion is not None
            said[name][run] = parts[run.portion.code]
    [state] = json.loads(client.get(f"/batches/{batch.number}/bench/state/").content)["batches"]
    by_title = {each["title"]: each for each in state["runs"]}
    for place, each in enumerate(state["runs"]):
        each["place"] = place
        del each["second_slots"]  # drawn of the cylinder, as above
    for run in runs:
        said["state"][run] = json.dumps(by_title[run.bench_title])
    return said


def tells(found: dict[str, list[tuple[int, int]]]) -> list[str]:
    """The places whose numbers rank a second portion where chance would not, with how far off."""
    told = []
    for place, ranks in found.items():
        expected = sum((among - 1) / 2 for _, among in ranks)
        sd = sqrt(sum((among**2 - 1) / 12 for _, among in ranks))
        off_sd = abs(sum(rank for rank, _ in ranks) - expected) / sd if sd else 0.0
        if len(ranks) >= BATCHES // 2 and off_sd > FAR_SD:
            told.append(f"{place}: {off_sd:.1f} standard deviations")
    return told


def ranked(values: dict[Run, int], which: Run) -> tuple[int, int]:
    return sorted(values.values()).index(values[which]), len(values)


def test_no_number_behind_a_door_of_the_bench_ranks_a_second_portion(
    plan: Callable[[int], list[Batch]], technician: Any, as_person: Any
) -> None:
    ranks: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for batch in plan(BATCHES):
        said, runs = seen_by(technician, batch, as_person), list(batch.sample_runs)
        codes = {run: run.portion.code for run in runs if run.portion is not None}
        values: dict[str, dict[Run, int]] = defaultdict(dict)
        for door, texts in said.items():
            for run, text in texts.items():
                for words, number in numbers_in(text, run):
                    values[f"{door}: {words}"].setdefault(run, number)
        values["code, worked back"] = {run: row_of(code) or 0 for run, code in codes.items()}
        in_order = sorted(runs, key=lambda run: codes[run])
        values["code, in order"] = {run: in_order.index(run) for run in runs}
        for place, by_run in values.items():
            if len(set(by_run.values())) == len(runs):
                for second in ("is_duplicate", "is_reference"):
                    which = next(run for run in runs if getattr(run, second))
                    ranks[f"{second}, {place}"].append(ranked(by_run, which))
    looked_at = {place.removeprefix("is_duplicate, ") for place in ranks if "duplicate" in place}
    assert {'state: pk": ', 'state: place": ', "code, worked back"} <= looked_at
    assert any("runs/" in place for place in looked_at), looked_at
    assert tells(ranks) == []


@pytest.mark.parametrize("read", [False, True])
def test_no_door_of_the_bench_says_of_one_portion_what_it_does_not_say_of_all(
    plan: Callable[[int], list[Batch]],
    technician: Any,
    as_person: Any,
    qa_officer: Any,
    work_off: Any,
    read: bool,
) -> None:
    (batch,) = plan(1)
    if read:
        _read(batch, technician)
        work_off()
    bags = {run.sample.lab_number for run in batch.sample_runs}
    for door, texts in seen_by(technician, batch, as_person).items():
        assert all(texts.values()), door
        one, *others = (plain(text, run).splitlines() for run, text in texts.items())
        differ = [line for other in others for line in unified_diff(one, other, lineterm="", n=0)]
        assert "\n".join(differ) == "", door
        for text in texts.values():
            assert not any(bag in text for bag in bags), door
            assert "Own bulk soil" not in text, door
    told = as_person(qa_officer).get(f"/batches/{batch.number}/").content.decode()
    assert "duplicate</a>" in told
    assert "reference soil</a>" in told


def _read(batch: Batch, technician: Any) -> None:
    for run in batch.runs.order_by("position"):
        values = factories.BLANK_G_L if run.is_blank else factories.LOAM_G_L
        factories.read_run(run, technician, values, started_at=timezone.now() - timedelta(days=4))


def test_no_page_of_a_bag_leads_to_its_beaker(
    plan: Callable[[int], list[Batch]], technician: Any, as_person: Any
) -> None:
    """Else the codes of a batch that no bag leads to would be those of the second portions."""
    client, (batch,) = as_person(technician), plan(1)
    codes = [run.portion.code for run in batch.sample_runs if run.portion is not None]
    for sample in {run.sample for run in batch.sample_runs}:
        for address in ("weigh", "prepare", "pretreatment"):
            shown = below_menu(client.get(f"/samples/{sample.lab_number}/{address}/").content.decode())
            assert not any(code in shown for code in codes), address
        answer = client.post(
            f"/samples/{sample.lab_number}/weigh/",
            {"entry_id": "6b0f0c5e-6a54-4f0a-8a52-0f7f0d0d1a03", "portion": str(sample.portions.first().pk)},
        )
        assert not any(code in answer.content.decode() for code in codes), "nor a row that was guessed"


def test_a_refusal_names_no_bag_and_is_the_same_for_every_portion(
    plan: Callable[[int], list[Batch]], technician: Any, as_person: Any, bench: Any
) -> None:
    client, (batch,), said = as_person(technician), plan(1), set()
    for n, run in enumerate(batch.sample_runs):
        assert run.portion is not None
        typed = {"balance": bench.balance.pk, "portion_g": "40.00", "portion": run.portion.code}
        name = f"6b0f0c5e-6a54-4f0a-8a52-0f7f0d0d1b0{n}"
        answer = client.post(f"/portions/{run.portion.code}/weigh/", typed | {"entry_id": name})
        assert answer.status_code == 409
        assert run.sample.lab_number not in answer.content.decode()
        out = f"/batches/{batch.number}/portions/{run.pk}/take-out/"
        taken = client.post(out, {"reason": "Probe.", "entry_id": name.replace("1b0", "1c0")})
        assert taken.status_code == 409
        (sentence,) = (str(message) for message in taken.context["messages"])
        said.add(sentence.replace(run.portion.code, "CODE"))
    assert said == {"Beaker CODE is weighed. It runs with the batch; void its run if soil was lost."}


def test_one_added_by_hand_is_drawn_among_the_bags(
    the_client: Any, clerk: Any, technician: Any, bench: Any
) -> None:
    """Whose bag gets a second portion is not worked out of numbers that the bench knows."""
    at = timezone.now() - timedelta(days=3)
    factories.more_cylinders(bench, 9)
    job = factories.job(the_client, clerk, at=at, samples=5)
    portions = [
        factories.portion(factories.prepared(s, technician, at=at), technician, bench)
        for s in job.samples.all()
    ]
    batch = factories.batch(portions, technician, bench, at=at, filled=False)
    drawn = {"n": 0}

    class Last:
        """Draws the last of whatever there is."""

        def choice(self, of: list[Portion]) -> Portion:
            drawn["n"] = len(of)
            return of[-1]

    run = add_duplicate(
        batch,
        cylinder=bench.cylinders[8],
        reason="One more.",
        by=technician,
        at=at,
        draw=Last(),  # type: ignore[arg-type]
    )
    assert drawn["n"] == 5
    assert run.sample == portions[-1].sample
