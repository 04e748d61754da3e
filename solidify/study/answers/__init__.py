"""What a finished study answers: its quantities, how often limits are breached, what moves what, where limits lie."""
