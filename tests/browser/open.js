// Opens the browser that the tests use: the system's own, without a network and without a window.
'use strict';

const { chromium } = require('playwright-core');

exports.open = () =>
  chromium.launch({
    executablePath: process.env.BENCHLEAF_CHROMIUM ?? '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-background-networking', '--disable-component-update', '--disable-sync', '--no-first-run'],
  });
