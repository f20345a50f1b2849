import { mount } from 'svelte';
import App from './App.svelte';
import './style/tokens.css';
import './style/base.css';
import './style/drawings.css';
import './style/review.css';
import { startWorker } from './net/install.ts';
import { applyGround } from './page/ground.svelte.ts';

applyGround();
mount(App, { target: document.body });
startWorker();
