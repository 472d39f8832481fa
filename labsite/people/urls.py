"""Addresses of the pages about people."""

from django.urls import path

from labsite.people import views

app_name = "people"

urlpatterns = [
    path("", views.people, name="people"),
    path("new/", views.new, name="new"),
    path("<int:pk>/", views.person, name="person"),
    path("<int:pk>/close/", views.close, name="close"),
    path("<int:pk>/reopen/", views.reopen, name="reopen"),
    path("<int:pk>/password/", views.password, name="password"),
]
