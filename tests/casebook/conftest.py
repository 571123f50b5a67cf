"""A casebook on each engine.

PostgreSQL only where TROUBLESHOOT_TEST_POSTGRES holds the URL of a database in which a test may
make a schema of its own (and drop it again), and the driver is there (`pip install '.[postgres]'`).
"""

import os
import uuid
from itertools import count

import pytest
import sqlalchemy as sa


@pytest.fixture(params=["sqlite", "postgresql"])
def fresh(request, tmp_path):
    """A function that names an empty casebook, another one at each call."""
    if request.param == "sqlite":
        numbers = count()
        yield lambda: f"sqlite:///{tmp_path / f'lab{next(numbers)}.db'}"
        return
    server = os.environ.get("TROUBLESHOOT_TEST_POSTGRES")
    if not server:
        pytest.skip("TROUBLESHOOT_TEST_POSTGRES is not set")
    url = sa.make_url(server).set(drivername="postgresql+psycopg")
    engine = sa.create_engine(url, isolation_level="AUTOCOMMIT")
    made = []

    def schema():
        made.append(f"casebook_{uuid.uuid4().hex}")
        with engine.connect() as db:
            db.execute(sa.schema.CreateSchema(made[-1]))
        inside = url.update_query_dict({"options": f"-csearch_path={made[-1]}"})
        return inside.render_as_string(hide_password=False)

    yield schema
    with engine.connect() as db:
        for one in made:
            db.execute(sa.schema.DropSchema(one, cascade=True))
    engine.dispose()


@pytest.fixture
def named(fresh):
    """The name of an empty casebook."""
    return fresh()


@pytest.fixture
def other(named, tmp_path):
    """The name of a second empty casebook, in a file."""
    return f"sqlite:///{tmp_path / 'other.db'}"
