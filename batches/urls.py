"""Addresses of the batches, from the preparation room to the review."""

from django.urls import include, path

from batches.balance import sieving
from batches.balance import views as weighing
from batches.bench import paper, tablet
from batches.bench import views as bench
from batches.equipment import views as equipment
from batches.exchanging import views as exchanging
from batches.limits import views as limits
from batches.nonconforming import views as nonconforming
from batches.overview import views as planning
from batches.proficiency import views as proficiency
from batches.readers import views as second_looks
from batches.review import views as review
from batches.room import pretreatment
from batches.room import views as preparation
from batches.run_page import views as runs

app_name = "batches"

urlpatterns = [
    path("preparation/", preparation.worklist, name="preparation"),
    path("samples/<str:lab_number>/prepare/", preparation.prepare, name="prepare"),
    path("samples/<str:lab_number>/pretreatment/", pretreatment.pretreatment, name="pretreatment"),
    path("weighing/", weighing.weighing, name="weighing"),
    path("samples/<str:lab_number>/portion/", weighing.take_portion, name="take_portion"),
    path("samples/<str:lab_number>/weigh/", weighing.weigh, name="weigh"),
    path("portions/<str:code>/weigh/", weighing.weigh_portion, name="weigh_portion"),
    path("sieving/", sieving.sieving, name="sieving"),
    path("portions/<str:code>/sieve/", sieving.sieve_portion, name="sieve_portion"),
    path("samples/<str:lab_number>/density/", weighing.correct_density, name="correct_density"),
    path("bench-day/", include("batches.timetables.urls")),
    path("batches/", planning.batch_list, name="list"),
    path("batches/new/", planning.new, name="new"),
    path("batches/<str:number>/", planning.batch, name="batch"),
    path("batches/<str:number>/portions/", planning.add_duplicate, name="add_duplicate"),
    path(
        "batches/<str:number>/portions/<int:pk>/take-out/",
        planning.take_out_duplicate,
        name="take_out_duplicate",
    ),
    path("batches/<str:number>/soak/", planning.soak, name="soak"),
    path("batches/<str:number>/disperse/", planning.disperse, name="disperse"),
    path("batches/<str:number>/filling/", planning.correct_filling, name="correct_filling"),
    path("batches/<str:number>/submit/", planning.submit, name="submit"),
    path("batches/<str:number>/abort/", planning.abort, name="abort"),
    path("batches/<str:number>/computed/", planning.computed, name="computed"),
    path("batches/<str:number>/bench/", bench.bench, name="bench"),
    path("batches/<str:number>/bench/state/", bench.bench_state, name="bench_state"),
    path("batches/<str:number>/paper/", paper.paper, name="paper"),
    path("bench/", bench.room, name="room"),
    path("bench/state/", bench.room_state, name="room_state"),
    path("bench/worker.js", bench.bench_worker, name="bench_worker"),
    path("bench/entries/", tablet.EntriesView.as_view(), name="entries"),
    path("runs/<int:pk>/", runs.run, name="run"),
    path("runs/<int:pk>/lift/", runs.lift_void, name="lift_void"),
    path("review/", review.review_list, name="review_list"),
    path("review/pairs/<int:pk>/", review.review_pair, name="review_pair"),
    path("review/results/<int:pk>/decide/", review.decide, name="decide"),
    path("review/<str:number>/", review.review, name="review"),
    path("review/<str:number>/quality/", review.look_at_quality, name="look_at_quality"),
    path("review/<str:number>/causes/<slug:key>/", review.answer, name="answer_cause"),
    path("review/<str:number>/approve/", review.approve, name="approve"),
    path("review/<str:number>/return/", review.return_batch, name="return_batch"),
    path("review/<str:number>/reject/", review.reject, name="reject"),
    path("quality/", limits.quality, name="quality"),
    path("quality/soils/", limits.soils, name="soils"),
    path("quality/soils/<int:pk>/used-up/", limits.soil_used_up, name="soil_used_up"),
    path("quality/charts/<str:address>/", limits.chart, name="chart"),
    path("quality/charts/<str:address>/limits/", limits.enter_limits, name="enter_limits"),
    path("quality/charts/<str:address>/limits/<int:pk>/again/", limits.take_up_again, name="take_up_again"),
    path("quality/charts/<str:address>/points/<int:pk>/answer/", limits.answer_point, name="answer_point"),
    path("review/<str:number>/put-right/", exchanging.put_right, name="put_right"),
    path("review/<str:number>/put-right/exchange/", exchanging.exchange, name="exchange"),
    path("review/<str:number>/put-right/leave-out/", exchanging.leave_out, name="leave_out"),
    path("review/<str:number>/put-right/mass/", exchanging.mass, name="put_mass_right"),
    path("review/exchanges/<int:pk>/undo/", exchanging.undo, name="undo_exchange"),
    path("review/left-out/<int:pk>/lift/", exchanging.count_again, name="count_again"),
    path("review/<str:number>/re-open/", nonconforming.reopen_batch, name="reopen"),
    path("readers/", second_looks.readers, name="readers"),
    path("rounds/", proficiency.rounds, name="rounds"),
    path("rounds/open/", proficiency.open_round, name="open_round"),
    path("rounds/<int:pk>/", proficiency.one_round, name="round"),
    path("rounds/<int:pk>/samples/", proficiency.add_sample, name="round_sample"),
    path("rounds/<int:pk>/samples/<int:link>/take-back/", proficiency.take_back, name="round_take_back"),
    path("rounds/<int:pk>/lock/", proficiency.lock, name="round_lock"),
    path("rounds/<int:pk>/report/", proficiency.enter_value, name="round_report"),
    path("rounds/<int:pk>/answers/<int:assigned>/", proficiency.answer, name="round_answer"),
    path("equipment/", equipment.equipment, name="equipment"),
    path("equipment/<str:kind>/new/", equipment.equipment_new, name="equipment_new"),
    path("equipment/<str:kind>/<int:pk>/check/", equipment.check, name="check"),
    path("equipment/<str:kind>/<int:pk>/withdraw/", equipment.withdraw, name="withdraw"),
]
