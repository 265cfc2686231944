"""What is kept and looked up, one store for each thing that a gilder makes."""
