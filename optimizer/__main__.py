"""``python -m optimizer`` is the command ``scullion``."""

from optimizer.cli.app import main

if __name__ == "__main__":
    main()
