"""What an answer was made of, where something was missing."""

NOTICES: dict[str, str] = {
    "no-weather": "No temperatures were given: a yearly swing of unknown size stands for the weather, and the ranges are wide.",
    "weather-gap": "{known} of the {days} days of the bills have a temperature. What is known of the weather around them stands for the others, with its uncertainty.",
    "few-weather": "Only {known} of the {days} days of the bills have a temperature. That is too few, and they were not used: a yearly swing of unknown size stands for the weather, and the ranges are wide.",
    "net-only": "These bills give only what is left of use and own generation. Less sun, a fault of the panels, a load that came and a fast meter look alike in them; the two registers (delivered and received) would tell them apart.",
    "no-loads": "No loads were listed: the bills are judged by one another and by the weather only.",
    "empty": "By the hourly readings (interval data) the house looks empty in {spans}: what is usual for these bills is that much less.",
    "guests": "By the hourly readings (interval data) more was used in {spans}, as much on mild days as on cold ones: guests, or more people at home. What is usual for these bills is that much more.",
    "noted-empty": "By your diary nobody was at home in {spans}: for those days about half as much is taken as usual, or more or less as these bills show.",
    "heating-new": "By the hourly readings (interval data) heating has taken about {times:figure} times as much for the same weather since {since:day}. A heat pump in place of gas, or other new electric heat, would do that.",
    "cooling-new": "By the hourly readings (interval data) cooling has taken about {times:figure} times as much for the same weather since {since:day}. A new air conditioner would do that.",
    "vague-list": "The list of loads is too vague to narrow the answer, most of all by {loads}: the bills were weighed without it. Watts and hours for these would let it help.",
    "off-list": "All the bills together stand further off the list of loads than its stated limits allow: some watts or hours are less sure than the list says.",
    "scatter": "The bills scatter more than the stated limits allow (about {times:figure} times): some watts or hours are less sure than the list says.",
}

NOT_JUDGED: dict[str, str] = {
    "danger": "Not weighed: the sign of danger comes first.",
    "no-energy": "The bill gives no kWh and no readings.",
    "misread": "A reading of it is wrong or was not taken, so its kWh are not what was used: only its sum with the bill beside it is right.",
    "few-days": "{missing} of its {days} days have no temperature: too little is known of its weather to judge it. Add those days to the temperatures.",
    "little-left": "Too little is left to judge it by.",
}
"""Why a bill is not judged, where the billing records do not say."""
