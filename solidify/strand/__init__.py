"""From a case to a solved strand: steel, cooling and grid set up, solved side by side, and assembled into results."""
