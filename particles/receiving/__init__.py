"""Jobs and bags, from arrival to acceptance."""
