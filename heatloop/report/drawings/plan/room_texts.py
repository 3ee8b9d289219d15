"""The figures of the positions of a room and the texts of their walls: places of least cost for all together.

The figures are placed one after another, and one of them often takes the place that another needs. So some texts at
a time are removed and placed again in another order. Then each text in turn is moved to a place that is better for it,
and the texts in its way are placed again, which may push others. A change is kept if all texts together cost less. The
order starts from a fixed number: the same room always has the same places.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations, islice, starmap

from heatloop.report.drawings.plan.level_plan import MarkOnPaper, RoomOnPaper
from heatloop.report.drawings.plan.text_places import (
    CROSSED,
    ROUNDS,
    Ground,
    Placed,
    Places,
    best_place,
    clear_places,
    leaders_crossed,
    mark_places,
    obstacle_lines,
    stand_apart,
    wall_places,
)

CONSIDERED, TRIED = 160, 40
"""Places of a text that are considered, and those that it is moved to in turn: the cheapest."""

PASSES, MOST_MOVED = 4, 5
"""Rounds of moves, and the number of texts that one move may change."""

PUSHED = 8.0
"""Cost of a place that pushes another text, besides what the other text then costs."""

REMOVALS, AT_A_TIME, SEED = 100, 4, 1
"""How often some texts are removed and placed again, how many then, and the fixed start of the order."""

UNWRITTEN = 150.0
"""Cost of a wall without its text: more than that of its number alone at any place."""

NOTHING = Placed((), ())


@dataclass(frozen=True)
class MarkText:
    """A position of a room with the places of its figures."""

    mark: MarkOnPaper
    places: Places

    @cached_property
    def urgency(self) -> float:
        """Cost of its twelfth place: the higher, the less free room there is."""
        costs = [cost for _, (cost, _) in zip(range(12), self.places, strict=False)]
        return costs[-1] if len(costs) == 12 else math.inf


@dataclass(frozen=True)
class RoomTexts:
    """What is written in a room about its positions, and the numbers of the walls that have their text in it."""

    placed: tuple[Placed, ...]
    walls: tuple[int, ...]


def room_texts(bare: Ground, room: RoomOnPaper) -> RoomTexts | None:
    """Texts of a room beside its walls and skirting; None where figures of some position find no place.

    Figures stay inside their room, so that rooms do not depend on each other.
    """
    marks = [
        MarkText(mark, Places(clear_places(bare, mark_places(straight, mark), room)))
        for straight in room.straights
        for mark in straight.marks
    ]
    figures = _figures(bare, marks)
    if figures is None:
        return None
    if not marks:
        return RoomTexts((), ())
    beside = bare.copy()
    beside.lines += obstacle_lines([room])  # for the texts of walls: figures have less free room
    choices = [_choices(bare, mark.places) for mark in marks]
    state = [_chosen(bare, mark.places, placed) for mark, placed in zip(marks, figures, strict=True)]
    for wall in room.walls:
        unwritten = _Choice(UNWRITTEN, NOTHING)
        choices.append([*_choices(beside, clear_places(bare, wall_places(room, wall.number), room)), unwritten])
        state.append(unwritten)
    exchange = _Exchange(choices)
    state = exchange.improved(exchange.set_anew(state))
    written = zip(room.walls, state[len(marks) :], strict=True)
    return RoomTexts(
        tuple(choice.placed for choice in state),
        tuple(wall.number for wall, choice in written if choice.placed is not NOTHING),
    )


def _chosen(ground: Ground, places: Places, placed: Placed) -> _Choice:
    """A place that was found among others."""
    cost = next(cost for cost, one in places if one is placed)
    return _Choice(cost + CROSSED * ground.crossings(placed), placed)


def _figures(bare: Ground, marks: Sequence[MarkText]) -> list[Placed] | None:
    """Figures of all positions of a room, one after another; None where some find no place."""
    order = sorted(marks, key=lambda one: (-one.urgency, one.mark.number))
    for _ in range(ROUNDS):
        trial, written, failed = bare.copy(), dict[int, Placed](), list[MarkText]()
        for one in order:
            best = best_place(trial, one.places)
            if best is None:
                failed.append(one)
            else:
                trial.add(best[1])
                written[one.mark.number] = best[1]
        if not failed:
            return [written[one.mark.number] for one in marks]
        order = [*failed, *(one for one in order if one not in failed)]
    return None


def _choices(ground: Ground, places: Iterable[tuple[float, Placed]]) -> list[_Choice]:
    """The places considered, with what each crosses that is drawn before any text; the cheapest first."""
    considered = (_Choice(cost + CROSSED * ground.crossings(one), one) for cost, one in islice(places, CONSIDERED))
    return sorted(considered, key=lambda choice: choice.cost)


@dataclass(frozen=True, eq=False)
class _Choice:
    """A place of a text and its cost, without what it crosses of other texts."""

    cost: float
    placed: Placed

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """West, south, east and north edge of its boxes and leaders; of nothing: no area anywhere."""
        ends = [point for leader in self.placed.leaders for point in leader]
        points = [*ends, *(corner for box in self.placed.boxes for corner in box.corners)]
        if not points:
            return math.inf, math.inf, -math.inf, -math.inf
        xs, ys = zip(*points, strict=True)
        return min(xs), min(ys), max(xs), max(ys)


_State = list[_Choice]


@dataclass
class _Exchange:
    """Places of all texts, by text, the cheapest first; how each two of them meet is looked at once."""

    choices: Sequence[Sequence[_Choice]]
    meetings: dict[tuple[_Choice, _Choice], float] = field(default_factory=dict)

    def set_anew(self, state: _State) -> _State:
        """A cheaper state, by the removal of some texts at a time, which are placed again in another order."""
        if len(state) < AT_A_TIME:
            return state
        picked, least = random.Random(SEED), self._total(state)
        for _ in range(REMOVALS):
            removed = picked.sample(range(len(state)), AT_A_TIME)
            placed = {text: choice for text, choice in enumerate(state) if text not in removed}
            for text in removed:
                best = self._best_beside(self.choices[text], list(placed.values()), ())
                if best is None:
                    break
                placed[text] = best
            else:
                trial = [placed[text] for text in range(len(state))]
                if (total := self._total(trial)) <= least:
                    state, least = trial, total
        return state

    def improved(self, state: _State) -> _State:
        """Places of a lower cost in total, by moves of one text each."""
        for _ in range(PASSES):
            before = state
            for text in range(len(state)):
                state = self._moved(state, text)
            if state == before:
                break
        return state

    def _moved(self, state: _State, text: int) -> _State:
        """The state with this text at a better place, where that lowers the total."""
        now, best = self._total(state), state
        share = state[text].cost + self._across(state, text)
        for choice in self.choices[text][:TRIED]:
            if choice.cost >= share:
                break
            after = self._placed_again(state, text, choice)
            if after is not None and (total := self._total(after)) < now - 1e-9:
                now, best = total, after
        return best

    def _placed_again(self, state: _State, text: int, choice: _Choice) -> _State | None:
        """The state with a text at that place and those in its way at others, which may push more; None where too
        many texts would move."""
        trial, moved, waiting = [*state], {text}, self._in_the_way(state, text, choice)
        trial[text] = choice
        while waiting:
            if len(moved) + len(waiting) > MOST_MOVED:
                return None
            following = waiting.pop(0)
            fixed = [trial[other] for other in moved]
            others = [
                one
                for other, one in enumerate(trial)
                if other not in moved and other not in waiting and other != following
            ]
            best = self._best_beside(self.choices[following], fixed, others)
            if best is None:
                return None
            moved.add(following)
            trial[following] = best
            waiting += [one for one in self._in_the_way(trial, following, best) if one not in waiting]
        return trial

    def _best_beside(
        self, choices: Sequence[_Choice], fixed: Sequence[_Choice], others: Sequence[_Choice]
    ) -> _Choice | None:
        """The cheapest place that touches nothing fixed; it may push others."""
        least, best = math.inf, None
        for choice in choices:
            if choice.cost >= least:
                break
            whole = choice.cost
            for one in fixed:
                whole += self._meeting(choice, one)
                if whole >= least:
                    break
            for one in others:
                if whole >= least:
                    break
                meeting = self._meeting(choice, one)
                whole += PUSHED if meeting == math.inf else meeting
            if whole < least:
                least, best = whole, choice
        return best

    def _in_the_way(self, state: _State, text: int, choice: _Choice) -> list[int]:
        """Texts that touch a place of another."""
        return [other for other, one in enumerate(state) if other != text and self._meeting(choice, one) == math.inf]

    def _total(self, state: _State) -> float:
        return sum(choice.cost for choice in state) + sum(starmap(self._meeting, combinations(state, 2)))

    def _across(self, state: _State, text: int) -> float:
        return sum(self._meeting(state[text], one) for other, one in enumerate(state) if other != text)

    def _meeting(self, one: _Choice, other: _Choice) -> float:
        """Cost of leaders that cross; infinite where boxes touch or a leader cuts one."""
        (west, south, east, north), (left, low, right, top) = one.bounds, other.bounds
        if left >= east or right <= west or low >= north or top <= south:
            return 0.0
        key = (one, other) if id(one) < id(other) else (other, one)
        met = self.meetings.get(key)
        if met is None:
            apart = stand_apart(one.placed, other.placed)
            met = CROSSED * leaders_crossed(one.placed, other.placed) if apart else math.inf
            self.meetings[key] = met
        return met
