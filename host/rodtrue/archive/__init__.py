"""Judging many captures: in processes or on a cluster, resumed after a kill, compared with an older judging."""
