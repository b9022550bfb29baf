"""A slow line between browser and clinic, to find the tests that do not wait for what they did."""

import os
import time

SLOW_S = float(os.environ.get("HANDRAIL_TESTS_SLOW_S", "0"))


def slow_line(get_response):
    """Hold every request back for ``SLOW_S`` seconds."""

    def answer(request):
        time.sleep(SLOW_S)
        return get_response(request)

    return answer
