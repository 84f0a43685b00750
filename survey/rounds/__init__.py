"""Many rounds over time: the store, two rounds compared, what fails next, when to come back."""
