"""What files about buildings have in common, whatever their form: what they state, which places that means
here, and what becomes of it."""
