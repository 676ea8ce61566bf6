"""Tank, recorded and answered: tanks, who lived in them, readings, treatments, the walk."""
