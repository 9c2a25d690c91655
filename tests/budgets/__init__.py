"""How many queries each page may take, and whether that stays so as the estate grows."""
