"""Every sentence of an answer, from the records."""
