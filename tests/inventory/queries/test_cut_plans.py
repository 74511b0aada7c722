"""What was planned when the pieces were held is what the sheet prints and what is cut."""

from collections import Counter

import pytest

from inventory import actions
from inventory.errors import NotEnough
from inventory.queries.bench_sheet import bench_sheet
from tests.factories import (
    DAY,
    MM,
    bar,
    bill,
    line,
    made_part,
    rack,
    reserved,
    sheet,
    simple_knife,
    step,
)

pytestmark = pytest.mark.django_db


def held_trail(steel, count):
    return reserved(simple_knife("TRAIL", line(steel, 1, cut=(240 * MM, None))), count)


def test_sheet_prints_the_plan_that_the_start_cuts():
    steel = bar()
    rack(steel, 1000, 600)
    batch = held_trail(steel, 5)
    [printed] = bench_sheet(batch, DAY).plans
    rack(steel, 500)
    actions.start_batch(batch=batch, day=DAY)
    for cut in printed.plan.rack_pieces:
        left = printed.pieces[cut.piece].remnants.values_list("length_um", flat=True)
        assert sorted(left) == sorted(w for _, _, w, _ in cut.remnants)


def test_piece_that_comes_in_later_does_not_change_a_plan_that_stands():
    steel = bar()
    rack(steel, 1000)
    batch = held_trail(steel, 2)
    [before] = bench_sheet(batch, DAY).plans
    rack(steel, 490)
    [after] = bench_sheet(batch, DAY).plans
    assert after == before


def test_plan_that_lost_a_piece_to_a_count_is_made_anew_from_the_others():
    steel = bar()
    [lost, _] = rack(steel, 1000, 1000)
    batch = held_trail(steel, 8)
    actions.count_piece(piece=lost, length_um=0, day=DAY, reason="not there")
    [planned] = bench_sheet(batch, DAY).plans
    assert [cut.piece for cut in planned.plan.rack_pieces] == [
        label for label in planned.pieces if label != lost.label
    ]
    assert planned.missing == 4
    with pytest.raises(NotEnough, match=f"{lost.label} isn't in stock any more"):
        actions.start_batch(batch=batch, day=DAY)


def test_released_batch_forgets_its_plan():
    steel = bar()
    rack(steel, 1000)
    batch = held_trail(steel, 2)
    actions.release_batch(batch=batch)
    assert not batch.cut_plans.exists()


def test_remnants_have_their_labels_before_they_are_cut():
    steel = bar()
    [piece] = rack(steel, 1000)
    batch = held_trail(steel, 2)
    [printed] = bench_sheet(batch, DAY).plans
    [label] = printed.labels[piece.label]
    actions.start_batch(batch=batch, day=DAY)
    assert piece.remnants.get().label == label


def test_second_remnant_of_a_piece_cut_differently_gets_a_label_of_its_own():
    steel = bar()
    [piece] = rack(steel, 1000)
    batch = held_trail(steel, 2)
    [printed] = bench_sheet(batch, DAY).plans
    kept = {piece.label: [(300 * MM, None), (200 * MM, None)]}
    actions.start_batch(batch=batch, day=DAY, kept=kept)
    labels = sorted(remnant.label for remnant in piece.remnants.all())
    assert len(set(labels)) == 2
    assert set(printed.labels[piece.label]) < set(labels)


@pytest.mark.parametrize(
    ("count", "cut", "parts"),
    [
        pytest.param(1, (150 * MM, 90 * MM), {"150 x 90": 3}, id="larger blank"),
        pytest.param(2, (100 * MM, 50 * MM), {"100 x 50": 6}, id="two of them"),
    ],
)
def test_plan_is_made_anew_when_the_bill_of_a_part_made_for_the_batch_changed(count, cut, parts):
    plastic, sheath = sheet(), made_part()
    bill(sheath, step(10, "Form", line(plastic, 1, cut=(100 * MM, 50 * MM))))
    rack(plastic, (600, 300))
    batch = reserved(simple_knife("TRAIL", line(sheath)), 3)
    bill(sheath, step(10, "Form", line(plastic, count, cut=cut)))
    [planned] = bench_sheet(batch, DAY).plans
    assert Counter(part.item for cut in planned.plan.rack_pieces for part in cut.placed) == parts


def test_remnant_kept_keeps_the_label_written_on_it_when_the_other_is_thrown_away():
    plastic = sheet()
    [piece] = rack(plastic, (600, 300))
    batch = reserved(simple_knife("TRAIL", line(plastic, 1, cut=(200 * MM, 100 * MM))), 1)
    [printed] = bench_sheet(batch, DAY).plans
    [_, (_, _, length, width)] = printed.plan.rack_pieces[0].remnants
    a_little_less = (length - 2 * MM, width)
    actions.start_batch(batch=batch, day=DAY, kept={piece.label: [a_little_less]})
    assert piece.remnants.get().label == printed.labels[piece.label][1]
