"""Surface sunlight as files give it: over which times each value is a mean, sum or instant, and how that is told."""
