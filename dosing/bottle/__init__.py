"""The bottle: petals and minutes to an infusion, how long it keeps, drops of dye."""
