"""Made skies, and what the model gives under each of them."""
