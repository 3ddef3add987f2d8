"""The page on which a coach marks the court, and the check of a marked court."""
