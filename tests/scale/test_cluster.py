"""A scheduler and workers as processes of their own, over TLS: results, losses, refusals."""

import contextlib
import gc
import shutil

import pytest
from tornado.tcpclient import TCPClient

from etl.errors import InputError, StoreError
from etl.scale import cluster as cluster_module
from etl.scale.cluster import Cluster
from etl.scale.partitions import read_list
from etl.scale.work import fleet_results
from tests.scale.hosts import hosts, listens_at, make_certificates
from tests.scale.test_fleet import same


class Losing:
    """Loses a process for good as soon as the first result is there."""

    def __init__(self, executor, process):
        self._executor, self._process = executor, process

    def map(self, function, tasks):
        for result in self._executor.map(function, tasks):
            if self._process.poll() is None:
                self._process.kill()
                self._process.wait()
            yield result


@pytest.fixture(scope="module")
def tls(tmp_path_factory):
    if not shutil.which("openssl"):
        pytest.skip("no openssl to make certificates with")
    return make_certificates(tmp_path_factory.mktemp("tls"))


# A connection that is cut while it is made safe is closed by the collector alone: the library lets
# go of it. Collected here, so that no other test is blamed.
@pytest.mark.filterwarnings(
    r"ignore:Exception ignored in. <ssl\.SSLSocket:pytest.PytestUnraisableExceptionWarning")
@pytest.mark.slow
def test_a_cluster_gives_the_same_results_and_survives_the_loss_of_a_worker(
    parts, settings, expected, tls, monkeypatch, tmp_path
):
    with hosts(tls, 2) as found, contextlib.closing(Cluster(found.address, tls)) as cluster:
        listed = read_list(str(parts))
        for process in (found.scheduler, *found.workers):
            assert {at.split(":")[0] for at in listens_at(process.pid)} == {"127.0.0.1"}
        with pytest.raises(StoreError, match="no scheduler answers"):  # another authority's
            Cluster(found.address, make_certificates(tmp_path / "other"))
        same(fleet_results(listed, Losing(cluster, found.workers[0]), settings), expected)
        with pytest.raises(StoreError, match="the scheduler is gone, with . tasks left. "
                                             "Nothing was published"):
            fleet_results(listed, Losing(cluster, found.scheduler), settings)
        monkeypatch.setattr(cluster_module, "JOIN_SECONDS", 1.0)
        with pytest.raises(StoreError, match="no scheduler answers at tls://"):
            Cluster(found.address, tls)
    gc.collect()


def left_quietly(recwarn):
    """Nothing of a client comes up as it is forgotten; pytest makes errors of what would."""
    gc.collect()
    assert not recwarn.list


def test_a_connection_that_ends_at_once_is_tried_again(tls, monkeypatch, recwarn):
    tried = []

    async def ends(*_, **__):  # as of a dying scheduler, before the connection is made safe
        tried.append(1)
        raise ValueError("IOStream is not idle; cannot convert to SSL")

    monkeypatch.setattr(TCPClient, "connect", ends)
    monkeypatch.setattr(cluster_module, "JOIN_SECONDS", 0.5)
    with pytest.raises(StoreError, match="no scheduler answers at tls://"):
        Cluster("tls://127.0.0.1:9", tls)
    assert len(tried) > 1
    left_quietly(recwarn)


def test_a_client_that_cannot_say_goodbye_is_left_all_the_same(tls, monkeypatch, recwarn):
    with hosts(tls, 1) as found:
        cluster = Cluster(found.address, tls)
        client = cluster._client

        async def broken(*_, **__):
            raise ValueError("the connection ended")

        monkeypatch.setattr(client, "_close", broken)
        cluster.close()
        assert client.status == "closed"
        client.__del__()
        del cluster, client
        left_quietly(recwarn)


@pytest.mark.parametrize(("address", "words"), [
    ("tcp://10.0.0.5:8786", "beyond this machine, so it must be tls://"),
    ("10.0.0.5:8786", "beyond this machine"),
    ("tls://10.0.0.5:8786", "needs --tls FOLDER with ca.pem, cert.pem, key.pem"),
    ("http://127.0.0.1:80", "must read like tls://"),
    ("tls://10.0.0.5", "must read like tls://"),
])
def test_an_open_address_is_refused(address, words):
    with pytest.raises(InputError, match=words):
        Cluster(address)


def test_a_folder_without_certificates_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"ca.pem is missing in this folder \(3 of 3 files\)"):
        Cluster("tls://127.0.0.1:9", tmp_path)
