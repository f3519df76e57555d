"""The reasons behind an answer, and what would let the bills be weighed."""

from __future__ import annotations

REASONS: dict[str, str] = {
    "all-within": "All {count} bills judged are within their range.",
    "one-within": "The one bill judged is within its range.",
    "over": "{count} of {judged} bills {are} over {their} range: {which}.",
    "under": "{count} of {judged} bills {are} under {their} range: {which}.",
    "part": "{count} more may be part of a lasting change, {each}inside its own range; the sum of the bills marked leaves {them} out.",
    "level": "All bills together are about {percent} {side} what the list of loads alone expects, {more} than its limits allow.",
    "level-apart": "Apart from what began or ended within them, all bills together are about {percent} {side} what the list of loads alone expects, {more} than its limits allow.",
    "shape": "Parts of the list look too large at the same time ({loads}): together the two meet the bills.",
    "run-open": "The run with the plug-in meter, read in the interval data, gives {percent} (give or take {doubt}). That cannot tell whether the meter is right: nights in which little else goes on and off tell more.",
    "level-same": "All bills together are what the list of loads alone expects, within its uncertainty.",
    "apart": "Bills alone tell these poorly apart: {names}. What draws power at night, and one steady load beside a plug-in meter, would.",
    "too-little": "{can} can be judged; {listed} a list of loads at least {wanted} are needed.",
    "told": "The diary tells of something that began about then ({day:day}).",
}
"""What a decision rests on, beside the sentences of findings, causes and site readings."""

ONE_PART = {"each": "", "them": "it"}
MORE_PARTS = {"each": "each ", "them": "them"}
"""How bills within their range, that are part of a lasting change, are spoken of."""

MISSING: dict[str, str] = {
    "bills": "Add bills until there are twelve or more ({count} now); the utility keeps past ones.",
    "loads": "Add the loads: what draws power, its watts, its hours.",
    "weather": "Add the average temperature that many bills print beside each bill. Better: a year of daily temperatures from the nearest public weather station.",
    "nothing": "No bill is left that can be judged: see what is said of each.",
}
"""What would let the bills be weighed."""
