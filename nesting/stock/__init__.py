"""What stands on the shelf: stock lists, the ledger of pieces, and what was really cut."""
