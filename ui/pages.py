"""The pages in the order of the work: the one list that navigation and tests read."""

from __future__ import annotations

__all__ = ["PAGES", "REPAIR_SECTIONS", "WITHOUT_CAR"]

PAGES = {
    "cars": "Cars",
    "inspect": "Inspect",
    "diagnose": "Diagnose",
    "papers": "Papers",
    "prices": "Prices",
    "bid": "Bid",
    "repair": "Repair",
    "test": "Test",
    "decide": "Sell or repair",
    "settings": "Settings",
}
"""Title of each, by its script in `ui/app_pages`, which is also its address."""
WITHOUT_CAR = ("cars", "settings")
"""Those that show the same whichever car is open, and without one."""
REPAIR_SECTIONS = ("Faults", "Jobs", "Parts", "Days", "Money and hours", "Where it ends")
"""What the page of the repair is divided into."""
