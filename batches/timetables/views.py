"""Pages of the bench day: what is in force, a new day, the search for better ones, the run sheet, the calendar."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required, permission_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotFound, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_GET, require_http_methods, require_POST, require_safe

from batches.timetables import addresses, rules
from batches.timetables.calendar_text import MEDIA_TYPE, calendar
from batches.timetables.forms import BenchDayForm
from batches.timetables.models import BenchDay, KeptTimetable, in_force
from batches.timetables.rows import events_of, shown
from particles.records.pages import Done, act_on, seen_by
from particles.records.person import signed_in

may_plan_day = permission_required("batches.plan_day", raise_exception=True)


@may_plan_day
@require_GET
def bench_day(request: HttpRequest) -> HttpResponse:
    """The timetable in force: what is still to come, by day."""
    kept = in_force()
    context: dict[str, Any] = {"kept": kept, "now": timezone.now()}
    if kept is not None:
        found = shown(kept.found.day, kept.found)
        context |= {
            "shown": found,
            "to_come": [row for row in found.rows if not row.is_over],
            "done": sum(row.is_over for row in found.rows),
            "left_out": rules.left_out(kept.found.day),
        }
    return render(request, "batches/timetables/bench_day.html", context)


@may_plan_day
@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    now, kept = timezone.now(), in_force()
    batches, people = rules.in_the_room(), rules.may_be_at_the_bench()
    form = BenchDayForm(
        request.POST if request.method == "POST" else None,
        batches=batches,
        people=people,
        at=now,
        hours=kept.found.day.hours if kept else {},
        asks=request.user,
    )
    outcome = act_on(form, lambda _: rules.ask(form.asked(), by=signed_in(request), at=now))
    if isinstance(outcome, Done):
        return redirect("batches:bench_day_plan", outcome.made.pk)
    context = {
        "form": form,
        "batches": batches,
        "people": people,
        "zone": timezone.get_default_timezone_name(),
    }
    return render(request, "batches/timetables/new.html", context, status=outcome.status)


@may_plan_day
@require_GET
def plan(request: HttpRequest, pk: int) -> HttpResponse:
    """The best timetable found so far for a day, and the search for better ones."""
    day, now = get_object_or_404(BenchDay.objects.select_related("asked_by"), pk=pk), timezone.now()
    best, newest = day.best, in_force()
    context = {
        "day": day,
        "shown": shown(day, best),
        "is_lost": day.is_lost(now),
        "waits_long": day.waits_long(now),
        "progress": _progress(day),
        "newest": newest,
        "kept": KeptTimetable.objects.filter(found=best).first(),
        "left_out": rules.left_out(day),
        "too_soon": rules.too_soon(best, at=now),
        "may_search": not day.is_sought or day.is_lost(now) or day.waits_long(now),
    }
    return render(request, "batches/timetables/plan.html", context)


def _progress(day: BenchDay) -> str:
    """The state of the search in a word that changes with everything the page shows of it."""
    now = timezone.now()
    return f"{day.state}.{day.best.turn}.{day.is_lost(now):d}{day.waits_long(now):d}"


@may_plan_day
@require_GET
def progress(request: HttpRequest, pk: int) -> JsonResponse:
    """The state of the search, for the page that waits for it."""
    return JsonResponse({"waiting": _progress(get_object_or_404(BenchDay, pk=pk))})


@may_plan_day
@require_POST
def search_again(request: HttpRequest, pk: int) -> HttpResponse:
    rules.search_again(get_object_or_404(BenchDay, pk=pk), at=timezone.now())
    return redirect("batches:bench_day_plan", pk)


@may_plan_day
@require_POST
def keep(request: HttpRequest, pk: int) -> HttpResponse:
    day = get_object_or_404(BenchDay, pk=pk)
    turn = request.POST.get("turn", "")
    found = get_object_or_404(day.found, turn=int(turn) if turn.isdecimal() and len(turn) < 9 else 0)
    kept = rules.keep(found, seen=seen_by(request), by=signed_in(request), at=timezone.now())
    messages.success(
        request, f"Timetable {kept.number} is in force. The pages of its batches show its times."
    )
    return redirect("batches:bench_day")


@may_plan_day
@require_POST
def late(request: HttpRequest) -> HttpResponse:
    kept = rules.late(seen=seen_by(request), by=signed_in(request), at=timezone.now())
    messages.success(
        request,
        f"Planned again from now: timetable {kept.number} is in force. Running cylinders kept their times. "
        "A better one is being sought; keep it when you like it.",
    )
    return redirect("batches:bench_day_plan", kept.found.day_id)


@may_plan_day
@require_GET
def sheet(request: HttpRequest, number: int) -> HttpResponse:
    """A kept timetable as a sheet to print and fill in."""
    kept = KeptTimetable.objects.select_related("by", "found__day").filter(number=number).first()
    if kept is None:
        raise Http404("There is no timetable of this number.")
    context = {
        "kept": kept,
        "shown": shown(kept.found.day, kept.found),
        "regulated": rules.regulated_batches(kept.found.day),
        "is_in_force": kept == in_force(),
        "printed_at": timezone.now(),
    }
    return render(request, "batches/timetables/sheet.html", context)


@may_plan_day
@require_GET
def calendar_page(request: HttpRequest) -> HttpResponse:
    """The person's own calendar: whether it has an address, and the ways to make and end one."""
    context = {"address": addresses.open_address(request.user), "of": in_force()}
    return render(request, "batches/timetables/calendar.html", context)


@never_cache
@may_plan_day
@require_POST
@sensitive_variables("secret", "address")
def make_calendar(request: HttpRequest) -> HttpResponse:
    """The answer is the only page that ever shows the address; sent again it is refused."""
    secret = addresses.make_address(by=signed_in(request), at=timezone.now())
    address = settings.PUBLIC_URL + reverse("batches:calendar_feed", args=[secret])
    return render(request, "batches/timetables/calendar_made.html", {"address": address})


@may_plan_day
@require_POST
def end_calendar(request: HttpRequest) -> HttpResponse:
    addresses.end_address(by=signed_in(request), at=timezone.now())
    messages.success(request, "The address is ended. A calendar that still asks there finds nothing.")
    return redirect("batches:calendar")


@login_not_required  # a calendar has no log-in: whoever knows the address may read what stands there
@require_safe
@sensitive_variables("secret")
def calendar_feed(request: HttpRequest, secret: str) -> HttpResponse:
    """What the owner of an address has still to do, for a calendar that asks again and again."""
    owner = addresses.owner_of(secret)
    response = (
        HttpResponseNotFound(
            "There is no calendar at this address.\n", content_type="text/plain; charset=utf-8"
        )
        if owner is None
        else HttpResponse(calendar("Bench day", events_of(owner)), content_type=MEDIA_TYPE)
    )
    response["Cache-Control"] = "no-store"
    return response
