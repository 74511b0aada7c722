"""One line per page."""

from django.contrib.auth.views import LogoutView
from django.urls import path
from django.views.generic import RedirectView

from inventory.pages import account

urlpatterns = [
    path("", RedirectView.as_view(pattern_name="settings"), name="today"),
    path("sign-in/", account.SignIn.as_view(), name="login"),
    path("sign-out/", LogoutView.as_view(), name="logout"),
    path("settings/", account.Settings.as_view(), name="settings"),
]
