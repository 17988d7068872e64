"""``python -m gradework`` is the same as the command ``gradework``."""

from gradework.command.main import main

if __name__ == "__main__":
    main()
