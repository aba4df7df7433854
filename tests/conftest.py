"""What holds for all tests."""

import signal

# A shell that starts the tests in the background has Ctrl-C ignored in all they start; who sends it waits for ever.
for _name in ("SIGINT", "SIGQUIT"):
    _number = getattr(signal, _name, None)
    if _number is not None and signal.getsignal(_number) is signal.SIG_IGN:
        signal.signal(_number, signal.default_int_handler if _name == "SIGINT" else signal.SIG_DFL)
