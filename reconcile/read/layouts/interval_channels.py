"""Which of several columns, rows or files of interval data are the registers of the house."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, get_args

from reconcile.house import Assumed
from reconcile.read.layouts.cell_kinds import LayoutError
from reconcile.read.layouts.interval_layout import Values
from reconcile.read.layouts.interval_names import (
    KW_OF,
    KWH_OF,
    Flow,
    is_register,
    not_energy,
    other_commodity,
    says_energy,
    says_interval,
    says_power,
    spaced,
)
from reconcile.read.tables.cells import plain_name
from reconcile.records import dataclass


class Assumptions(dict[str, Assumed]):
    """What is taken for granted of interval data because no file says it, each told once."""

    def add(self, code: str, of: str = "", **figures: Any) -> None:
        """Take something for granted; ``of`` names what it is true of, where it may be true of several."""
        self[f"{code} {of}"] = Assumed(code, figures)


COLUMN = "column"
_AT_THE_METER = re.compile(
    r"grid|(?<![a-z])(?:import|export)(?:ed)?(?![a-z])|netz(?:bezug|einspeis)|r.seau|(?<![a-z])rete(?![a-z])"
    r"|feed[- ]?in",
    re.IGNORECASE,
)
"""What passes the meter, where the house's own use and what its panels make stand beside it."""
_UNIT_NAME = re.compile(r"(?<![a-z])[km]?wh(?![a-z])|[()\[\] _]", re.IGNORECASE)
"""The unit in a name, and what stands between its words."""
_READING = re.compile(r"(?<![a-z])read(?:ing)?s?(?![a-z])", re.IGNORECASE)
MOST_PARTS = 6
"""Phases, or price periods, that are added."""


@dataclass(frozen=True, slots=True)
class Register:
    """A register of the house: columns (or words of a column) that add up to it."""

    parts: tuple[Values, ...]
    """More than one where phases are added."""
    flow: Flow | None
    """None where nothing tells, which is taken for delivered."""
    beside: tuple[Values, ...] = ()
    """Parts that stand beside the whole, and must add up to it."""

    @property
    def name(self) -> str:
        """Its name, or the names of its phases."""
        return " + ".join(part.name for part in self.parts)


@dataclass(frozen=True, slots=True)
class Chosen:
    """The registers to read, and a column of volts where there is one."""

    registers: tuple[Register, ...]
    volts: Values | None = None


def choose(values: Sequence[Values], wanted: str | None, assumed: Assumptions, where: str = COLUMN) -> Chosen:
    """Choose the registers among columns, or among words that rows carry.

    Parameters
    ----------
    wanted : str or None
        The channel that the household named.
    assumed : Assumptions
        Gathers what was taken for granted.
    where : str
        What they are, for the question.

    Raises
    ------
    LayoutError
        With the question to ask.
    """
    volts = next((value for value in values if value.unit == "V"), None)
    able = [value for value in values if value.unit != "V" and not other_commodity(value.name)]
    candidates = [value for value in able if not not_energy(value.name)] or able or list(values)
    energy = [value for value in able if value.unit in KWH_OF or value in candidates]
    if wanted is not None:
        found = [value for value in values if plain_name(value.name) == plain_name(wanted)]
        if not found:
            raise LayoutError(
                f"there is no {where} {wanted}" if where == COLUMN else f"no row has {wanted} in the column {where}",
                f"Set channel under [interval] to one of: {_listed(candidates)}.",
            )
        flow: Flow | None = "net" if found[0].flow == "net" else None
        return _told(Chosen((Register((found[0],), flow),), volts), candidates, assumed)
    pool = _pool(candidates)
    intervals = [value for value in pool if not is_register(value.name)]
    pool = intervals if any(value.flow != "net" for value in intervals) else pool
    pool = _used(_in_one_unit(pool))
    flows: dict[Flow | None, Register] = {}
    for one in (*get_args(Flow), None):
        mine = [value for value in pool if value.flow == one]
        if mine:
            parts = _one(mine, candidates, where)
            flows[one] = Register(parts, one, _beside(parts, mine))
    drawn, sent = flows.get("delivered"), flows.get("received")
    if drawn and sent and _at_the_meter(drawn) and _at_the_meter(sent):
        flows.pop(None, None)  # what the house makes and uses itself stands beside what passes the meter
    if None in flows and "delivered" in flows:
        raise _question(candidates, where)
    main = flows.get("delivered") or flows.get(None) or flows.get("net")
    back = flows.get("received")
    registers = tuple(register for register in (main, back) if register is not None)
    return _told(Chosen(registers, volts), energy, assumed)


def _pool(values: Sequence[Values]) -> list[Values]:
    """Return the columns of energy; those of unknown unit where there are none; then those of power."""
    energy = [value for value in values if value.unit in KWH_OF]
    power = [value for value in values if value.unit in KW_OF or says_power(value.name)]
    unknown = [value for value in values if value.unit is None and value not in power]
    if not energy:  # beside power, a column that says nothing of itself may be anything
        said = [value for value in unknown if says_energy(value.name)] if power else unknown
        return said or [*power, *unknown]
    told = {value.flow for value in energy}
    return energy + [
        value for value in unknown if value.flow is not None and value.flow not in told and None not in told
    ]


def _in_one_unit(values: Sequence[Values]) -> list[Values]:
    """Return the columns without those whose names differ from another's by the unit alone: the finest is kept."""
    own = {value.column: _UNIT_NAME.sub("", value.name).casefold() for value in values}

    def finer(one: Values, other: Values) -> bool:
        return own[one.column] == own[other.column] and KWH_OF[one.unit or "kWh"] < KWH_OF[other.unit or "kWh"]

    energy = [value for value in values if value.unit in KWH_OF]
    return [value for value in values if value not in energy or not any(finer(one, value) for one in energy)]


def _used(values: list[Values]) -> list[Values]:
    """Return what was used in each interval, without the reading of the register that stands beside it."""
    use = [value for value in values if says_interval(value.name)]
    beside = all(value in use or (_READING.search(spaced(value.name)) and value.flow is None) for value in values)
    return use if len(use) == 1 and beside else values


def register_beside(chosen: Register, values: Sequence[Values]) -> Values | None:
    """Return the one column that is a running register of the same unit beside the energy that is read."""
    unit = chosen.parts[0].unit
    able = [value for value in values if value.unit == unit in KWH_OF and value not in chosen.parts]
    found = [value for value in able if is_register(value.name) or _READING.search(spaced(value.name))]
    return found[0] if len(found) == 1 else None


def _one(values: Sequence[Values], candidates: Sequence[Values], where: str) -> tuple[Values, ...]:
    if len(values) == 1:
        return tuple(values)
    whole = [value for value in values if value.part is None]
    parts = [value for value in values if value.part is not None]
    families = {(value.part or "").partition(" ")[0] for value in parts}
    if len(whole) == 1 and parts:
        return tuple(whole)
    at_the_meter = [value for value in values if _AT_THE_METER.search(spaced(value.name))]
    if len(at_the_meter) == 1:
        return tuple(at_the_meter)
    if not whole and len(families) == 1 and len({value.part for value in parts}) == len(parts) <= MOST_PARTS:
        return tuple(parts)
    raise _question(candidates, where)


def _at_the_meter(register: Register) -> bool:
    return all(_AT_THE_METER.search(spaced(part.name)) for part in register.parts)


def _beside(whole: Sequence[Values], values: Sequence[Values]) -> tuple[Values, ...]:
    parts = [value for value in values if value.part is not None]
    alike = len({(value.part or "").partition(" ")[0] for value in parts}) == 1
    return tuple(parts) if len(whole) == 1 and whole[0].part is None and len(parts) > 1 and alike else ()


def _question(values: Sequence[Values], where: str) -> LayoutError:
    several = "there is more than one column of values"
    if where != COLUMN:
        several = f"the column {where} names more than one register, and nothing tells which is the house's"
    return LayoutError(several, f"Set channel under [interval] to one of: {_listed(values)}.")


def _listed(values: Sequence[Values]) -> str:
    return ", ".join(dict.fromkeys(value.name for value in values[:30])) or "none"


def _told(chosen: Chosen, candidates: Sequence[Values], assumed: Assumptions) -> Chosen:
    """Say what is read and what is not."""
    read = [part for register in chosen.registers for part in register.parts]
    others = [value.name for value in candidates if value not in read]
    if len(chosen.registers) > 1:
        main, back = chosen.registers
        assumed.add("two-registers", drawn=main.name, back=back.name)
    elif chosen.registers and len(chosen.registers[0].parts) > 1:
        assumed.add("phases", names=chosen.registers[0].name)
    if others and read:
        assumed.add("one-column", read=chosen.registers[0].name, others=", ".join(others[:5]))
    return chosen
