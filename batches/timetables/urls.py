"""Addresses of the bench day."""

from django.urls import path

from batches.timetables import views

urlpatterns = [
    path("", views.bench_day, name="bench_day"),
    path("new/", views.new, name="bench_day_new"),
    path("late/", views.late, name="bench_day_late"),
    path("calendar/", views.calendar_page, name="calendar"),
    path("calendar/make/", views.make_calendar, name="make_calendar"),
    path("calendar/end/", views.end_calendar, name="end_calendar"),
    path("calendar/<str:secret>.ics", views.calendar_feed, name="calendar_feed"),
    path("sheet/<int:number>/", views.sheet, name="run_sheet"),
    path("<int:pk>/", views.plan, name="bench_day_plan"),
    path("<int:pk>/progress/", views.progress, name="bench_day_progress"),
    path("<int:pk>/search/", views.search_again, name="bench_day_search"),
    path("<int:pk>/keep/", views.keep, name="bench_day_keep"),
]
