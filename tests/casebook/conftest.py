"""A casebook on each engine.

PostgreSQL only where TROUBLESHOOT_TEST_POSTGRES holds the URL of a database in which a test may
make a schema of its own (and drop it again), and the driver is there (`pip install '.[postgres]'`).
"""

import os
import uuid

import pytest
import sqlalchemy as sa


@pytest.fixture(params=["sqlite", "postgresql"])
def named(request, tmp_path):
    """The name of an empty casebook."""
    if request.param == "sqlite":
        yield f"sqlite:///{tmp_path / 'lab.db'}"
        return
    server = os.environ.get("TROUBLESHOOT_TEST_POSTGRES")
    if not server:
        pytest.skip("TROUBLESHOOT_TEST_POSTGRES is not set")
    url = sa.make_url(server).set(drivername="postgresql+psycopg")
    engine = sa.create_engine(url, isolation_level="AUTOCOMMIT")
    schema = f"casebook_{uuid.uuid4().hex}"
    with engine.connect() as db:
        db.execute(sa.schema.CreateSchema(schema))
    inside = url.update_query_dict({"options": f"-csearch_path={schema}"})
    yield inside.render_as_string(hide_password=False)
    with engine.connect() as db:
        db.execute(sa.schema.DropSchema(schema, cascade=True))
    engine.dispose()


@pytest.fixture
def other(named, tmp_path):
    """The name of a second empty casebook, in a file."""
    return f"sqlite:///{tmp_path / 'other.db'}"
