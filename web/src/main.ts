import { mount } from 'svelte';
import './ui/tokens.css';
import './ui/base.css';
import App from './app/App.svelte';

const target = document.getElementById('page');
if (!target) throw new Error('index.html has no #page to mount on.');
mount(App, { target });
