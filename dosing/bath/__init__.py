"""The bath: water, foam bath, colours and activator put together, and what readings leave open."""
