"""A new revision of the bill of a product, or of a part made in house."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse

from inventory.actions import save_bill
from inventory.models import BillOfMaterials, Item, Product
from inventory.pages.bill_form import BillForm
from inventory.pages.bill_rows import EMPTY_ROWS
from inventory.pages.forms import ActionPage
from inventory.queries.products import active_bill


class EditBill(ActionPage):
    """Starts from the active bill; what is saved is a new revision, the old one stays readable."""

    role = "owner"
    template_name = "products/edit_bill.html"
    form_class = BillForm
    submit_label = "Save as a new revision"
    owner: Product | Item
    owner_name = "product"

    def setup(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        super().setup(request, *args, **kwargs)
        self.owner = self.find_owner(kwargs["code"])
        self.bill = active_bill(self.owner)
        self.heading = f"Bill of {self.owner.code}"
        self.sub = (
            f"Revision {self.bill.revision} is the pattern; planned batches keep theirs."
            if self.bill
            else "The first one."
        )

    def find_owner(self, code: str) -> Product | Item:
        return get_object_or_404(Product, code=code)

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """The button for more rows gives the same form back with more of them."""
        if "more" in request.POST:
            return self.render_to_response(self.get_context_data(form=self.longer_form()))
        return super().post(request, *args, **kwargs)

    def longer_form(self) -> BillForm:
        kwargs = self.get_form_kwargs()
        data = kwargs["data"].copy()
        counter = f"{data['more']}-TOTAL_FORMS"
        if data.get(counter, "").isdecimal():
            data[counter] = str(int(data[counter]) + EMPTY_ROWS)
        return BillForm(**{**kwargs, "data": data})

    def get_form_kwargs(self) -> dict:
        return {**super().get_form_kwargs(), "bill": self.bill, "owner": self.owner}

    def act(self, form: BillForm) -> BillOfMaterials:
        return save_bill(
            operations=form.new_operations(), **{self.owner_name: self.owner}, **form.asked
        )

    def message_for(self, result: BillOfMaterials) -> str:
        return f"Revision {result.revision} of the bill is active."

    def done_url(self, result: BillOfMaterials) -> str:
        return self.owner.get_absolute_url()

    def back_url(self) -> str:
        return self.owner.get_absolute_url()


class EditPartBill(EditBill):
    owner_name = "made_item"

    def find_owner(self, code: str) -> Item:
        return get_object_or_404(Item, code=code, kind=Item.Kind.MADE)

    def done_url(self, result: BillOfMaterials) -> str:
        return reverse("part-bill", args=[self.owner.code])
