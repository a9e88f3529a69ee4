"""Second file the interpreter runs: starts the program, unless boot.py chose maintenance."""

import maintenance

if not maintenance.active:
    import app
    import board

    app.run(board.Board())
