"""The appraisal before a purchase: the bid, what drives it, what a check is worth."""
