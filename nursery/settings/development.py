"""One's own machine: make demo, make start. Nothing to set; the secret is made once and kept beside the data."""

import os
import secrets

from nursery.settings.base import *  # noqa: F403
from nursery.settings.base import VAR_DIR, env


def kept_secret() -> str:
    """The secret of this folder, made on first use. Two processes starting at once agree on one."""
    path = VAR_DIR / "secret_key"
    if not path.exists():
        draft = VAR_DIR / f".secret_key.{os.getpid()}"
        draft.write_text(secrets.token_urlsafe(64))
        draft.chmod(0o600)
        try:
            os.link(draft, path)  # fails if another process was first; theirs holds then
        except FileExistsError:
            pass
        finally:
            draft.unlink()
    return path.read_text()


DEBUG = env.bool("DEBUG", default=False)
SECRET_KEY = env.str("SECRET_KEY", default="") or kept_secret()
ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]", *env.list("ALLOWED_HOSTS", default=[])]
FIRST_PAGE_IS_OPEN = True
