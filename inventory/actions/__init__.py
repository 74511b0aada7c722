"""The verbs of the shop: the only code that writes.

Every action is keyword-only and one transaction: all of it or none. Each takes a request `key`; the
same key with the same content acts once. What an action refuses it says in a sentence
(inventory.errors.Refused) and then nothing was written. Who may do what is asked in pages.
"""

from inventory.actions.bill_rows import NewLine, NewOperation, NewWear
from inventory.actions.bills import NewBill, save_bill, save_bills
from inventory.actions.catalogue import (
    save_choices,
    save_item,
    save_machine,
    save_place,
    save_product,
    save_products,
    save_supplier,
    save_suppliers,
)
from inventory.actions.certificate import attach_certificate
from inventory.actions.correct_life import (
    confirm_life,
    correct_end_reason,
    put_back_in,
    take_back_reading,
    take_back_regrind,
)
from inventory.actions.count import count_lot, count_piece
from inventory.actions.count_found import add_to_count, count_unlabelled
from inventory.actions.cut_piece import cut_piece
from inventory.actions.doubt_lot import doubt_lot
from inventory.actions.exceptional_use import count_use_in, leave_out_use
from inventory.actions.finish_batch import StageTally, count_stage, finish_batch
from inventory.actions.found import find_stock
from inventory.actions.issue import issue_piece, issue_stock, return_stock
from inventory.actions.lots import extend_lot, open_lot, set_lot_status
from inventory.actions.make_part import make_part
from inventory.actions.many_records import RecordEntry
from inventory.actions.orders import (
    cancel_order,
    close_order_line,
    draft_order,
    draft_orders,
    send_order,
)
from inventory.actions.past_builds import PastRow, record_past_builds
from inventory.actions.people import (
    add_user,
    change_role,
    choose_units,
    save_shop,
    set_up_shop,
)
from inventory.actions.plan_batch import cancel_batch, plan_batch
from inventory.actions.post_count import post_count
from inventory.actions.receive import receive_delivery
from inventory.actions.regrind import bring_back_reground, send_to_regrind
from inventory.actions.reserve_batch import release_batch, reserve_batch
from inventory.actions.return_piece import return_piece
from inventory.actions.reverse import reverse_posting
from inventory.actions.save_items import save_items
from inventory.actions.save_offers import NewOffer, save_offer, save_offers
from inventory.actions.snooze import end_snooze, snooze_item
from inventory.actions.start_batch import start_batch
from inventory.actions.stock_count import (
    ask_recount,
    drop_count,
    enter_count,
    enter_piece,
    start_count,
)
from inventory.actions.thickness import measure_thickness
from inventory.actions.transfer import move_stock
from inventory.actions.wear import (
    fit,
    log_wear,
    move_wear,
    read_wear,
    remove,
    reverse_wear,
    swap,
)
from inventory.actions.weigh_sample import weigh_sample

__all__ = [
    "NewBill",
    "NewLine",
    "NewOffer",
    "NewOperation",
    "NewWear",
    "PastRow",
    "RecordEntry",
    "StageTally",
    "add_to_count",
    "add_user",
    "attach_certificate",
    "ask_recount",
    "bring_back_reground",
    "cancel_batch",
    "cancel_order",
    "change_role",
    "choose_units",
    "close_order_line",
    "count_lot",
    "count_piece",
    "count_stage",
    "count_unlabelled",
    "count_use_in",
    "cut_piece",
    "doubt_lot",
    "draft_order",
    "draft_orders",
    "drop_count",
    "end_snooze",
    "enter_count",
    "enter_piece",
    "extend_lot",
    "find_stock",
    "finish_batch",
    "fit",
    "issue_piece",
    "issue_stock",
    "leave_out_use",
    "log_wear",
    "make_part",
    "measure_thickness",
    "move_stock",
    "move_wear",
    "open_lot",
    "plan_batch",
    "post_count",
    "read_wear",
    "receive_delivery",
    "record_past_builds",
    "release_batch",
    "remove",
    "reserve_batch",
    "return_piece",
    "return_stock",
    "reverse_posting",
    "reverse_wear",
    "save_bill",
    "save_bills",
    "save_choices",
    "save_item",
    "save_items",
    "save_machine",
    "save_offer",
    "save_offers",
    "save_place",
    "save_product",
    "save_products",
    "save_shop",
    "save_supplier",
    "save_suppliers",
    "send_order",
    "send_to_regrind",
    "set_lot_status",
    "set_up_shop",
    "snooze_item",
    "start_batch",
    "start_count",
    "swap",
    "weigh_sample",
    "confirm_life",
    "correct_end_reason",
    "put_back_in",
    "take_back_reading",
    "take_back_regrind",
]
