"""EPANET keeps scratch files in the folder it runs in: run in a folder of the tests' own."""

import os

import pytest


@pytest.fixture(autouse=True, scope="module")
def a_folder_of_its_own(tmp_path_factory):
    before = os.getcwd()
    os.chdir(tmp_path_factory.mktemp("epanet"))
    yield
    os.chdir(before)
