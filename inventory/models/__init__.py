"""The nouns of the shop; constraints live here, rules that write live in inventory.actions."""

from inventory.models.batch import Batch, BatchLine, Reservation, StageCount
from inventory.models.bill import BillOfMaterials, BomLine, Operation, WearLine
from inventory.models.cut_plan import CutPlan
from inventory.models.exceptional_use import ExceptionalUse
from inventory.models.forecast import ForecastRun, ItemForecast, ProductForecast
from inventory.models.forecast_score import ForecastScore
from inventory.models.item import Item
from inventory.models.lot import Lot
from inventory.models.movement import Balance, Movement, Posting
from inventory.models.past_build import PastBuild
from inventory.models.piece import Piece
from inventory.models.place import Place
from inventory.models.product import Product, ProductOption
from inventory.models.purchase_order import OrderLine, OrderReceipt, PurchaseOrder
from inventory.models.replay_run import ReplayRun
from inventory.models.request import Request
from inventory.models.running_number import RunningNumber
from inventory.models.shop import Shop
from inventory.models.snooze import Snooze
from inventory.models.stock_count import CountLine, StockCount
from inventory.models.supplier import Offer, PriceBreak, Supplier
from inventory.models.user import User
from inventory.models.wear import Fitting, LifeCorrection, Machine, Regrind, WearLog, WearReading

__all__ = [
    "Balance",
    "Batch",
    "BatchLine",
    "BillOfMaterials",
    "BomLine",
    "CountLine",
    "CutPlan",
    "ExceptionalUse",
    "Fitting",
    "ForecastRun",
    "ForecastScore",
    "Item",
    "ItemForecast",
    "LifeCorrection",
    "Lot",
    "Machine",
    "Movement",
    "Offer",
    "Operation",
    "OrderLine",
    "OrderReceipt",
    "PastBuild",
    "Piece",
    "Place",
    "Posting",
    "PriceBreak",
    "Product",
    "ProductForecast",
    "ProductOption",
    "PurchaseOrder",
    "Regrind",
    "ReplayRun",
    "Request",
    "Reservation",
    "RunningNumber",
    "Shop",
    "Snooze",
    "StageCount",
    "StockCount",
    "Supplier",
    "User",
    "WearLine",
    "WearLog",
    "WearReading",
]
