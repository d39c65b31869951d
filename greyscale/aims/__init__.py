"""What a print should measure: tone aims, neutral aims, toning, and how much is tolerated."""
