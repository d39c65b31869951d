"""`python -m greyscale` is the same as `greyscale`."""

from greyscale.cli.app import main

main()
