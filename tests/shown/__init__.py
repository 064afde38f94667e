"""Whatever a text of the product shows to be typed is typed here."""
