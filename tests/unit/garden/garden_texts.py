"""A small correct garden file that tests vary."""

from __future__ import annotations

CORRECT = """\
site:
  latitude: 46.05
  longitude: 14.51
  elevation_m: 298
  time_zone: Europe/Ljubljana
spots:
  - name: terrace
  - name: stairwell
    room: unheated
    escape_route: yes
pots:
  - plant: lemon
    material: terracotta
    volume_l: 30
    spot: terrace
"""
