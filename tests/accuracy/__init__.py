"""How near the answers come to truths that were not made here."""
