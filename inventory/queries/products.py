"""Products: their list, bills, revisions and the batches they were built in."""

from django.db.models import Count, Max, Q, QuerySet, Sum

from inventory.models import Batch, BatchLine, BillOfMaterials, Item, Operation, Product
from inventory.queries.bills import bills_with_lines

FINISHED = Q(batch_lines__batch__state=Batch.State.FINISHED)
STILL_OPEN = [Batch.State.PLANNED, Batch.State.RESERVED, Batch.State.IN_WORK]
OPEN = Q(batch_lines__batch__state__in=STILL_OPEN)


def products_with_history() -> QuerySet[Product]:
    """Every product with `revision`, `good` knives made, `batches` finished, `coming` knives."""
    return Product.objects.annotate(
        revision=Max("bills__revision"),
        good=Sum("batch_lines__good", filter=FINISHED),
        batches=Count("batch_lines", filter=FINISHED),
        coming=Sum("batch_lines__wanted", filter=OPEN),
    )


def active_bill(owner: Product | Item) -> BillOfMaterials | None:
    """The bill a product or a made part is built by today."""
    return bills_with_lines().filter(status=BillOfMaterials.Status.ACTIVE, **_own(owner)).first()


def active_operations(item: Item) -> list[Operation]:
    """The steps a part is made by today, each with its bill; nothing else is read of them."""
    steps = Operation.objects.filter(
        bill__made_item=item, bill__status=BillOfMaterials.Status.ACTIVE
    )
    return list(steps.select_related("bill").order_by("number"))


def bill_revision(owner: Product | Item, revision: int) -> BillOfMaterials | None:
    """One revision of its bill, also a retired one."""
    return bills_with_lines().filter(revision=revision, **_own(owner)).first()


def revisions_of(owner: Product | Item) -> list[BillOfMaterials]:
    """Every bill, the newest first."""
    return list(owner.bills.order_by("-revision"))


def batches_of(product: Product) -> list[BatchLine]:
    """Batches this product was or will be built in, the newest first."""
    return list(
        product.batch_lines.select_related("batch", "bill")
        .exclude(batch__state=Batch.State.CANCELLED)
        .order_by("-batch__start_on", "-pk")
    )


def _own(owner: Product | Item) -> dict[str, Product | Item]:
    return {"product": owner} if isinstance(owner, Product) else {"made_item": owner}
