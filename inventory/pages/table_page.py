"""A page that is one list: filter, sort, pages, and the whole list as CSV."""

from typing import Any

import django_tables2 as tables
from django.core.paginator import Page, Paginator
from django.db.models import QuerySet
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.utils.cache import patch_vary_headers
from django.views.generic import TemplateView
from django_filters import FilterSet
from django_tables2 import LazyPaginator, RequestConfig

from inventory.exchange.csv_export import csv_response
from inventory.pages.access import RoleRequired
from inventory.pages.cells import plain_rows


class OpenEndedPaginator(LazyPaginator):
    """Pages of a list too long to be counted for every look at it: whether there is more, is known.

    count: how many rows there are up to the end of the page.
    """

    open_ended = True
    count = 0

    def page(self, number: int) -> Page:
        page = super().page(number)
        self.count = (page.number - 1) * self.per_page + len(page.object_list)
        return page


class TablePage(RoleRequired, TemplateView):
    """Set heading, table_class and get_rows; ?format=csv gives every row that matches.

    Rows are a queryset, narrowed by filterset_class when there is one, or a list that get_rows
    narrows itself by self.filter_form. The filter and the sort links ask for the table alone
    (htmx); without JavaScript the same addresses give the whole page. A page that shows more than
    its list extends parts/table_page.html.
    """

    template_name = "parts/table_page.html"
    table_class: type[tables.Table]
    filterset_class: type[FilterSet] | None = None
    paginator_class: type[Paginator] = Paginator
    per_page = 50
    heading = ""
    sub = ""
    export_name = "list"
    filter_form: Form | None = None

    def get_rows(self) -> QuerySet | list:
        raise NotImplementedError(f"{type(self).__name__} must say which rows it lists.")

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        table = self.table_class(data=self.matching_rows())
        table.request = request
        if request.GET.get("format") == "csv":
            RequestConfig(request, paginate=False).configure(table)
            return csv_response(self.export_name, plain_rows(table))
        in_pages = {"per_page": self.per_page, "paginator_class": self.paginator_class}
        RequestConfig(request, paginate=in_pages).configure(table)
        table.in_pages = True  # any other table shows all of its rows, see parts/table.html
        response = self.render_to_response(self.get_context_data(table=table, **kwargs))
        patch_vary_headers(response, ["HX-Request"])
        return response

    def matching_rows(self) -> QuerySet | list:
        rows = self.get_rows()
        if self.filterset_class is None:
            return rows
        filterset = self.filterset_class(self.request.GET or None, rows, request=self.request)
        self.filter_form = filterset.form
        self.filter_form.label_suffix = ""
        return filterset.qs if not filterset.is_bound or filterset.is_valid() else rows.none()

    def get_template_names(self) -> list[str]:
        asked = self.request.htmx
        if asked and not asked.history_restore_request:
            return ["parts/table_region.html"]
        return [self.template_name]

    def get_context_data(self, **kwargs: Any) -> dict:
        shown = {"heading": self.heading, "sub": self.sub, "filter_form": self.filter_form}
        return super().get_context_data(**shown, **kwargs)
