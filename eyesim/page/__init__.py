"""Pages to print and files to keep: card, report, feedback, gradebook, what is handed out."""
