"""What commands show, for people and for programs."""
