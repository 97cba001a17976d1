"""What evenings came to: words, pages and data of the answers to the coach's questions."""
