"""Products and the bills by which knives and parts are made."""

from django.db.models import Prefetch, QuerySet

from inventory.models import (
    Batch,
    BatchLine,
    BillOfMaterials,
    BomLine,
    Item,
    Operation,
    Product,
    WearLine,
)

ACTIVE = BillOfMaterials.Status.ACTIVE


def bills_for_reading() -> QuerySet[BillOfMaterials]:
    """Bills with operations, lines and wear lines, in five queries however many there are."""
    operations = Operation.objects.select_related("service").prefetch_related(
        Prefetch("lines", BomLine.objects.select_related("item", "option")),
        Prefetch("wear_lines", WearLine.objects.select_related("item")),
    )
    return BillOfMaterials.objects.select_related("product", "made_item").prefetch_related(
        Prefetch("operations", operations)
    )


def active_bill(owner: Product | Item) -> BillOfMaterials | None:
    """The bill a product or a made part is built by today."""
    own = {"product": owner} if isinstance(owner, Product) else {"made_item": owner}
    return bills_for_reading().filter(status=ACTIVE, **own).first()


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
