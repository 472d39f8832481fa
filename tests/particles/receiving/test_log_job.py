from __future__ import annotations

import re
from collections import Counter
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from particles.models import Job, Sample

pytestmark = pytest.mark.django_db
NEW = "particles:job_new"


def refused(answer: Any, sentence: str) -> None:
    assert answer.status_code == 422
    assert sentence in answer.content.decode().replace("&#x27;", "'")
    assert not Job.objects.exists()


def value_of(answer: Any, name: str) -> str:
    """What the page shows again in the box of this name."""
    box = re.search(rf'<input[^>]*name="{name}"[^>]*>', answer.content.decode())
    assert box, name
    found = re.search(r'value="([^"]*)"', box[0])
    return found[1] if found else ""


def test_the_form_has_twelve_lines_without_any_script(
    at: Any, clerk: Any, bench: Any, the_client: Any
) -> None:
    page = at(clerk).get(reverse(NEW)).content.decode()
    assert 'name="line12-client_label"' in page
    assert 'name="line13-client_label"' not in page


def test_a_job_is_logged_as_written_and_empty_lines_are_ignored(send_job: Any, clerk: Any) -> None:
    answer = send_job(
        client_reference="Order 114",
        sand_by_sieve="yes",
        pretreatment_wish="keep carbonates",
        line3_client_label="007",
        line3_depth_text="4-8 in",
        line3_origin_country="Examplia",
        line3_origin_region="West Reach",
        line3_received_mass_g="412.5",
        line3_sampled_on=f"{timezone.localdate():%-d %b %Y}",
        line3_condition="wet",
    )
    job = Job.objects.get()
    assert answer["Location"] == reverse("particles:job", args=[job.number])
    assert (job.received_by, job.sand_by_sieve, job.client_reference) == (clerk, True, "Order 114")
    first, second = job.samples.all()
    assert (first.client_label, first.depth_text, first.line) == ("Field 1", "0-20 cm", 1)
    assert (second.client_label, second.depth_text, second.line) == ("007", "4-8 in", 2)
    assert (second.received_mass_g, second.condition) == (Decimal("412.5"), "wet")
    assert (second.origin_region, second.sampled_on) == ("West Reach", timezone.localdate())


def test_the_same_form_sent_twice_is_one_job(at: Any, clerk: Any, job_form: Any) -> None:
    browser, form = at(clerk), job_form()
    first = browser.post(reverse(NEW), form)
    second = browser.post(reverse(NEW), form, follow=True)
    assert Job.objects.count() == 1
    assert second.redirect_chain[0][0] == first["Location"]
    assert "had been sent before" in second.content.decode()


def test_two_forms_are_two_jobs(at: Any, clerk: Any, job_form: Any) -> None:
    browser = at(clerk)
    browser.post(reverse(NEW), job_form())
    browser.post(reverse(NEW), job_form())
    assert Job.objects.count() == 2


def test_a_refused_form_may_be_sent_again_under_its_own_name(at: Any, clerk: Any, job_form: Any) -> None:
    browser, form = at(clerk), job_form()
    assert browser.post(reverse(NEW), form | {"line1-depth_text": "0-20"}).status_code == 422
    assert browser.post(reverse(NEW), form).status_code == 302
    assert Job.objects.count() == 1


def test_everything_typed_is_shown_again_when_refused(send_job: Any) -> None:
    answer = send_job(
        client_reference="Order 9", line1_depth_text="0-20", line2_client_label="B7", line12_condition="torn"
    )
    refused(answer, "Line 12")
    for name, typed in {
        "client_reference": "Order 9",
        "line1-client_label": "Field 1",
        "line1-depth_text": "0-20",
        "line2-client_label": "B7",
        "line12-condition": "torn",
    }.items():
        assert value_of(answer, name) == typed


def test_a_line_with_anything_typed_needs_a_label(send_job: Any) -> None:
    answer = send_job(line4_received_mass_g="300")
    refused(answer, "Line 4, label on the bag")
    refused(answer, "Type the label exactly as written on the bag.")


def test_a_job_without_a_line_is_refused(send_job: Any) -> None:
    answer = send_job(line1_client_label="", line1_depth_text="", line1_origin_country="")
    refused(answer, "No sample line is filled.")


@pytest.mark.parametrize("missing", ["client", "method", "sand_by_sieve"])
def test_the_head_of_the_form_is_needed(send_job: Any, missing: str) -> None:
    answer = send_job(**{missing: ""})
    assert answer.status_code == 422
    assert "This field is required" not in answer.content.decode()
    assert not Job.objects.exists()


def test_two_equal_labels_ask_whether_they_are_two_bags(send_job: Any) -> None:
    again = {"line2_client_label": "field  1", "line2_origin_country": "Examplia"}
    refused(send_job(**again), "The same label as line 1.")
    assert send_job(**again, line2_checked="on").status_code == 302
    first, second = Sample.objects.order_by("line")
    assert (first.same_label_confirmed, second.same_label_confirmed) == (False, True)


def test_a_tick_on_a_single_label_does_not_call_it_a_second_bag(send_job: Any) -> None:
    send_job(line1_checked="on")
    assert not Sample.objects.get().same_label_confirmed


def test_a_label_like_scientific_notation_needs_a_look(send_job: Any) -> None:
    refused(send_job(line1_client_label="1.2E+04"), "looks like a number shortened by a spreadsheet")
    assert send_job(line1_client_label="1.2E+04", line1_checked="on").status_code == 302
    assert Sample.objects.get().client_label == "1.2E+04"


def test_a_depth_that_became_a_date_shows_both_readings(send_job: Any) -> None:
    refused(send_job(line1_depth_text="Oct-20"), "“10-20” or “20-10”")


def test_a_depth_without_unit_is_refused(send_job: Any) -> None:
    refused(send_job(line1_depth_text="0-15"), "“0-15” has no unit.")


def test_soil_is_not_sampled_after_it_came(send_job: Any) -> None:
    tomorrow = timezone.localdate() + timedelta(days=1)
    refused(send_job(line1_sampled_on=tomorrow.isoformat()), "is after receipt on")
    assert send_job(line1_sampled_on=timezone.localdate().isoformat()).status_code == 302


def test_a_day_that_could_be_two_days_is_refused(send_job: Any) -> None:
    refused(send_job(line1_sampled_on="03/04/2026"), "could be read as more than one day")


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("412,5", "“412,5” has a comma."),
        ("412 g", "is not a plain number"),
        ("4_12", "is not a plain number"),
        ("0", "0 g cannot be the mass"),
        ("-3", "-3 g cannot be the mass"),
        ("412.55", "has 2 decimals; 1 can be kept"),
        ("NaN", "is not a plain number"),
    ],
)
def test_a_mass_is_a_plain_number_of_grams(send_job: Any, typed: str, sentence: str) -> None:
    answer = send_job(line1_received_mass_g=typed)
    refused(answer, sentence)
    assert value_of(answer, "line1-received_mass_g") == typed


def test_the_country_is_needed_on_every_line(send_job: Any) -> None:
    refused(send_job(line2_client_label="B"), "Line 2, country of origin")


def test_the_origin_of_the_head_fills_empty_lines_only_and_is_shown(
    at: Any, clerk: Any, job_form: Any
) -> None:
    form = job_form(
        origin_country="Sedimentia",
        origin_region="Delta",
        line2_client_label="B",
        line3_client_label="C",
        line3_origin_region="Hills",
    )
    browser = at(clerk)
    refused(browser.post(reverse(NEW), form), "Line 3, country of origin")
    page = browser.post(
        reverse(NEW), form | {"line3-origin_country": "Examplia"}, follow=True
    ).content.decode()
    assert "Origin “Delta, Sedimentia” was taken from the head of the form for typed lines 2." in page
    origins = Sample.objects.order_by("line").values_list("origin_country", "origin_region")
    assert list(origins) == [("Examplia", ""), ("Sedimentia", "Delta"), ("Examplia", "Hills")]


def test_twelve_more_lines_keep_what_was_typed_and_judge_nothing(at: Any, clerk: Any, job_form: Any) -> None:
    form = job_form(more_lines="1", line2_depth_text="Oct-20", client_reference="Order 9")
    answer = at(clerk).post(reverse(NEW), form)
    assert answer.status_code == 200
    assert value_of(answer, "line2-depth_text") == "Oct-20"
    assert value_of(answer, "client_reference") == "Order 9"
    assert value_of(answer, "submission") == form["submission"]
    assert value_of(answer, "line24-client_label") == ""
    assert "is-wrong" not in answer.content.decode()
    assert not Job.objects.exists()


def test_lines_beyond_the_first_twelve_are_logged(send_job: Any) -> None:
    send_job(line_count="24", line24_client_label="Last", line24_origin_country="Examplia")
    assert list(Sample.objects.order_by("line").values_list("client_label", flat=True)) == ["Field 1", "Last"]


@pytest.mark.parametrize("count", ["-1", "x", "", "9999999", "²"])
def test_a_strange_number_of_lines_breaks_nothing(send_job: Any, count: str) -> None:
    assert send_job(line_count=count).status_code == 302


def test_soil_from_a_regulated_origin_is_held_at_once(send_job: Any, regulated_area: Any) -> None:
    send_job(line1_origin_country="karstland", line2_client_label="B", line2_origin_country="Examplia")
    assert Counter(Sample.objects.values_list("state", flat=True)) == {"on hold": 1, "arrived": 1}
    assert Sample.objects.get(state="on hold").hold_waits_for == "laboratory manager"


def test_a_wanted_day_in_the_past_is_refused(send_job: Any) -> None:
    refused(send_job(wanted_by=(timezone.localdate() - timedelta(days=1)).isoformat()), "is past.")


def test_too_little_soil_is_logged_with_a_warning(at: Any, clerk: Any, job_form: Any) -> None:
    form = job_form(line1_received_mass_g="100", line2_client_label="B", line2_origin_country="Examplia")
    browser = at(clerk)
    page = browser.post(reverse(NEW), form | {"line2-received_mass_g": "99.9"}, follow=True).content.decode()
    assert "Less than 100 g came for typed lines 2." in page
    assert Sample.objects.get(client_label="B").received_mass_g == Decimal("99.9")
