"""One line per page."""

urlpatterns = []
