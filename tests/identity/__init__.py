"""What the evidence says of the bench's modules against how they are piped; `python -m tests.identity`."""
