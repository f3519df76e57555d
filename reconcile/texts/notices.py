"""What an answer was made of, where something was missing."""

NOTICES: dict[str, str] = {
    "no-weather": "No temperatures were given: a yearly swing of unknown size stands for the weather, and the ranges are wide.",
    "weather-gap": "{days} days have no temperature; what is known of the weather around them stands for them, with its uncertainty.",
    "net-only": "These bills give only what is left of use and own generation. Less sun, a fault of the panels, a load that came and a fast meter look alike in them; the two registers (delivered and received) would tell them apart.",
    "no-loads": "No loads were listed: the bills are judged by one another and by the weather only.",
    "vague-list": "The list of loads is too vague to narrow the answer, most of all by {loads}: the bills were weighed without it. Watts and hours for these would let it help.",
    "off-list": "All the bills together stand further off the list of loads than its stated limits allow: some watts or hours are less sure than the list says.",
    "scatter": "The bills scatter more than the stated limits allow (about {times:figure} times): some watts or hours are less sure than the list says.",
}
