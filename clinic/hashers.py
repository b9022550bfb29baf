"""How passwords are kept."""

from django.contrib.auth.hashers import Argon2PasswordHasher


class ClinicArgon2PasswordHasher(Argon2PasswordHasher):
    """Argon2id with 46 MiB a sign-in, one lane.

    Django's default asks 100 MiB and eight lanes, so ten people signing in at once would ask a
    small server for a gigabyte. OWASP's floor (Password Storage Cheat Sheet) is 19 MiB, two
    passes, one lane.
    """

    time_cost = 2
    memory_cost = 47_104
    parallelism = 1
